# Jobs, usage, costs.
jobs-title = Jobs
jobs-week = { $from } to { $to }, week { $number }
jobs-weeks = Weeks
jobs-days = Days
jobs-before = Week before
jobs-this = This week
jobs-next = Week after
jobs-closed = closed
jobs-none = No job.
jobs-more = More of jobs
jobs-all = All jobs
jobs-find = Find a vehicle
jobs-find-do = Find
jobs-found = With “{ $vehicle }” in the vehicle
jobs-not-found = No job is found.
jobs-last-first = The last first
jobs-pages = Pages
jobs-later = Later jobs
jobs-earlier = Earlier jobs

job-title = { $job }
job-booked = booked
job-done = done
job-cancelled = called off
job-day = Day
job-types = What is to be done
job-no-types = No job type is set up yet.
job-size = Size
job-condition = Condition
job-which = Vehicle
job-price = Price in { $currency }; left empty, as the job types cost
job-wrong = Not saved yet: look at what is marked below.
job-stale = Somebody changed this job after you opened it. It is shown as it is now; what you typed still stands in the form, if it was one. Look at it and send it again.
job-start = Start
job-again = Book the same again
job-change = Change or move
job-save = Save
job-cancel = Call off
job-cancel-text = What is poured for it already stays written down.
job-cancel-do = Call off { $job }
job-erase = Erase this vehicle’s name

erase-title = Erase “{ $vehicle }”?
erase-text = The name goes from these jobs and from earlier changes of them. The jobs themselves, what they took and the books stay. It cannot be undone.
erase-kept = Exported folders and backups made before still hold it.
erase-do = { $count ->
    [one] Erase it from this job
   *[other] Erase it from { $count } jobs
}
erase-not = Keep it
size-small-note = city car
size-medium-note = saloon, estate
size-large-note = SUV
size-oversize-note = van, truck
condition-1 = 1, well kept: dust only
condition-2 = 2, lightly soiled
condition-3 = 3, usual road dirt
condition-4 = 4, heavily soiled
condition-5 = 5, neglected

book-title = Book a job
book-on = Book
book-book = Book
book-look = Look first
book-look-text = “Look first” books nothing: it shows whether the shelf carries the job.
book-outlook = What the shelf says
book-closed = The shop is closed on { $day }.
book-past = { $day } has passed.
book-far = That is more than { $days } days ahead, further than the shelf is looked at.
book-takes-from = It would take from other jobs:
book-takes = { $job }, { $day }: from { $before } ready to { $after }.
order-by = Order from { $supplier } by { $by }: nine times in ten it is here in time.
order-too-late = Ordered from { $supplier }, { $by } at the soonest, it may come only { $arrives }: move the job to then or later, or buy nearby.
order-nowhere = No supplier is listed for it.

lack-why = Why, in amounts
lack-hand = On the shelf
lack-books-off = As the books may be off, on average
lack-coming = Of { $amount } on its way ({ $order }), { $chance } in time
lack-booked = { $count } booked { $count ->
    [one] job
   *[other] jobs
 } before it
lack-not-booked = Jobs before it that are not booked yet
lack-goes-off = Goes off before it
lack-other-ratio = Stands mixed at another ratio
lack-takes = It takes itself
lack-left = Left over on average
lack-missing = Missing on average
lack-swing = Less in the worst tenth of cases
lack-least = Left over in these
lack-least-missing = Missing in these
lack-text = Averages over many ways in which the days until then may go. The chance to run short is the share of them in which too little is left for it.
lack-split = What keeps it from being ready
lack-others = Other products
lack-not-ready = Not ready
lack-split-text = Where several lack at once, and nothing serves in their place, it counts in equal parts for each.

took-title = What it took
took-nothing = No product is written down for it.
took-measured = measured; such a job is expected to take { $expected }
took-as-expected = not measured: as expected
took-not-expected = measured; not on its sheet
took-drawn = { $amount } taken, { $expected } expected
took-total = Product in all
took-left = { $money } of the price is left
lot = Lot
measured = measured
expected = expected
pour-more = Pour something more
job-pour-do = Write it down
job-later-pour = A pour for { $job }

record-do = Record to hand over
record-title = Record of { $job }
record-heading = Record of work
record-services = What was done
record-products = Products used
record-care = Care notes
record-back = Back to the job
record-not-done = The job of { $job } is not finished yet: its record is made when it is.
print = Print

trace-title = Lot { $lot }
trace-containers = Containers: { $names }
trace-none = It went on no job yet.
trace-count = It went on { $count } { $count ->
    [one] job
   *[other] jobs
 }:
trace-text = Expected means that nobody measured it: the job is taken to have used it.

usage-title = Usage
usage-text = What jobs really take of each product, as bought, learned from pours and counts until this morning.
usage-type = Job type
usage-show = Show
usage-none = Nothing is known of it yet.
usage-scale = The line in the middle is the sheet, the left end a third of it, the right end three times. The bar is where what jobs take on average lies, eight times in ten: the wider, the less sure.
usage-sure = { $low } to { $high }, from { $jobs } { $jobs ->
    [one] job
   *[other] jobs
 }
usage-unseen = { $low } to { $high }; no job was seen yet
usage-sheet = sheet { $amount }
usage-no-sheet = not on the sheet
usage-drawn = { $low } to { $high }; the sheet says { $sheet }
usage-changed = What changed
usage-elsewhere = In other job types
usage-changed-text = Medium size, condition 3, as the sheet is written.
usage-unchanged = The sheets say what jobs take, as far as is known.
usage-more = The sheet says { $sheet }, but jobs take more: { $low } to { $high } on average, from { $jobs } { $jobs ->
    [one] job
   *[other] jobs
 }.
usage-less = The sheet says { $sheet }, but jobs take less: { $low } to { $high } on average, from { $jobs } { $jobs ->
    [one] job
   *[other] jobs
 }.
usage-not-on-sheet = Not on the sheet, but jobs take { $low } to { $high } on average, from { $jobs } { $jobs ->
    [one] job
   *[other] jobs
 }.
usage-set = Set the sheet to { $amount }
usage-owner = The usage sheet is the owner’s to change.

costs-title = Costs
costs-backtest = How the plan would have done in past weeks
costs-types = Product for one job
costs-text = What one job takes on average, at the cost of the lots that it came out of. The bar is what the price leaves.
costs-none = No job is done yet.
costs-jobs = { $count } { $count ->
    [one] job
   *[other] jobs
 }
costs-of = of { $price }
costs-margin = { $money } is left once the product is paid ({ $share })
costs-no-price = It has no price.
costs-total = All done jobs together
waste-title = Thrown away
waste-none = Nothing was thrown away.
waste-products = { $count } { $count ->
    [one] product
   *[other] products
 }
waste-expired = past its use-by
waste-spilled = spilled
waste-damaged = damaged
waste-returned = returned
waste-unknown = no reason given
picture-keep = Keep this picture
backtest-title = Backtest
backtest-text = Would the plan have been right in past weeks? Each order day's morning is planned again by what was known then, and held against what came. It takes some seconds.
backtest-owner = Only owners see what following the list would have cost.
backtest-make = Replay the past weeks
backtest-again = Replay them again
backtest-making = It is being worked out.
backtest-look = Look again
backtest-weeks = { $weeks } { $weeks ->
    [one] week
   *[other] weeks
} replayed, from { $from } on.
backtest-drawn = The same as below, drawn: errors of the forecasts, bands, and costs.
backtest-foretold = Demand foretold
backtest-known = known
backtest-estimated = estimated
backtest-span = Next { $days } days, { $kind }, { $cases } cases
backtest-error = Off by { $plan } of what was taken; the usage sheet by { $sheet }
backtest-band = a band that said { $said } held { $held }
backtest-followed = Had the list been followed
backtest-list = The list
backtest-shop = The shop
backtest-orders = Orders
backtest-freight = Freight
backtest-waste = Went off
backtest-holding = Holding
backtest-stalls = Stalls
backtest-together = These together
backtest-stock = Stock at the end
backtest-unknown = not known
backtest-stalled = { $job } ({ $day }) would have lacked { $amount } of { $product }
