# Today, and the end of a job.
today-title = Today
today-jobs = Jobs
today-no-jobs = No job is left for today.
today-mixes = To mix
today-going-off = Going off
today-done = Done today
next-job = The next is { $job }, { $day }.
book-do = Book one

empty-title = An empty shelf
empty-text = Put your products on the shelf, or bring them in from a folder; a set of job types to start from is ready.
empty-do = Set up the shop

order-due = Order by { $day }: { $lines } { $lines ->
    [one] line
   *[other] lines
 }

job-vehicle = { $size }, condition { $condition }
job-late = from { $day }
job-started = started
size-small = Small
size-medium = Medium
size-large = Large
size-oversize = Oversize

ready-yes = The shelf carries it ({ $chance }).
ready-likely = The shelf likely carries it ({ $chance }).
ready-no = The shelf may not carry it ({ $chance }).
ready-unknown = Not looked at yet.
short = { $product }: { $chance } chance to run short, by about { $missing }.
short-substitute = { $product }: { $chance } chance to run short, by about { $missing }. { $substitute } serves in its place.
set-out = Set out { $count } { $count ->
    [one] container
   *[other] containers
 }
set-out-spare = to hand
mix-of = { $water } water + { $product }
acid-into-water = Corrosive: the product goes into the water, never the water into it.
goes-off = { $left } left, good until { $day }.
gone-off = { $left } left.

finish-do = Finish
finish-title = Finish { $job }
finish-heading = Finish
finish-done = Done
finish-these = Done with these amounts
finish-text = Filled in is what it is expected to have taken. What you change counts as measured; 0 says that it took none. If something ran out in the middle of it, count none of it on the shelf: the job would have taken more, and that is learned.
finish-other = Something else
finish-not-open = Job { $job } is not open any more.
measures-text = A spray is taken as 1 mL, a cap as 15 mL: ten of yours on a scale say it better.
later-finish = Finish { $job }
