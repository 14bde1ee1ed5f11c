# Shelf, products, containers, labels.
shelf-title = Shelf
shelf-count = { $count } { $count ->
    [one] product
   *[other] products
 }
shelf-find = Find by name, category or barcode
shelf-find-do = Find
shelf-all = Show the whole shelf
shelf-count-do = Count the shelf
shelf-due = Count the shelf: { $count } { $count ->
    [one] wants it
   *[other] want it
 }
shelf-empty = There is no product yet.
shelf-none = No product is called “{ $wanted }”.
shelf-no-category = Other
shelf-left = { $amount } left
shelf-past = { $amount } more is past its use-by: do not use it.
shelf-nothing = none on the shelf
shelf-near = { $left }: { $until }
shelf-wants-count = Wants a count
shelf-found = The books ran out { $amount } before the shelf did, last { $day }. Count it.
shelf-pages = Pages of the shelf
shelf-before = Before
shelf-next = Next

state-open = Open
state-sealed = Sealed
state-empty = Empty
state-discarded = Thrown away
state-mix = Mix { $ratio }
drawn = { $state }, { $left } left
until-none = No end to its life is known.
until-past = Past its use-by since { $day }: do not use it.
until-days = Good until { $day }, { $days } { $days ->
    [one] day
   *[other] days
 }.
until-far = Good until { $day }.
life-open = Opened { $began }. { $until }
life-sealed = Came { $began }. { $until }
form-concentrate = Concentrate, { $size } a container.
form-pieces = { $size } in a container.
form-ready = Ready to use, { $size } a container.
keeps-open = Good for { $time } once opened.
keeps-mixed = A mix is good for { $time }.
time-days = { $number } { $number ->
    [one] day
   *[other] days
 }
time-months = about { $number } months
time-years = { $number } { $number ->
    [one] year
   *[other] years
 }

bottles = Containers
bottles-none = None is on the shelf.
bottles-each = each
choice = { $id }, { $state }, { $left } left
notes = Notes
substitutes = Serves in its place

acts = What happened?
field-quantity = Amount
field-gross-g = Weight
field-sealed = Sealed containers
field-water = Parts of water
field-containers = Containers
field-unit-cost = Cost
field-best-before = Best before
field-lot = Lot
field-supplier = Supplier
field-container = Container
field-job = Job
field-at = Time
field-reason = Reason

pour-do = Pour
pour-amount = How much
pour-neat = Leave it empty where it was poured as bought.
pour-job = For which job
pour-no-job = For none
pour-from = Out of which
pour-first = The one that is next
pour-done = Write the pour down
later-pour = Pour of { $name }

open-do = Open
open-which = Which
open-next = The next one; the last one is empty
open-beside = { $id }, beside the open one
open-text = From now on it counts as open, and its life once opened begins.
open-done = It is open
later-open = Opening of { $name }

mix-do = Mix
mix-bottle = The bottle holds
mix-water = Parts of water to one part of product
mix-known = Usual here:
mix-work-out = Work it out
recipe-wrong = Fill in what the bottle holds and how many parts of water, above 0.
recipe-water = { $amount } water first
recipe-product = then { $amount } { $product }
recipe-slowly = then { $amount } { $product }, slowly, into the water: never water into it
recipe-mixed = I mixed { $amount } at { $ratio }

count-do = Count or weigh
count-sealed = Sealed containers that you see
count-open = What the open ones hold together
count-in-it = What is in it
count-weight = Or its weight on the scale
count-scale = Scale shows
count-done = Write the count down
weigh-text = Put the open one on the scale with its cap. Empty it weighs { $tare }; a millilitre weighs { $density }.
weigh-no-tare = Weigh what is in it alone: what the empty container weighs is not set up. A millilitre weighs { $density }.
weigh-each = Several are open: weigh each on its own page.
later-count = Count of { $name }

receive-do = Receive
receive-containers = Containers
receive-lot = Lot
receive-best-before = Best before
receive-supplier = Supplier
receive-nobody = Not said
receive-cost = Cost of one container, { $currency }
receive-done = Put on the shelf

discard-do = Throw away
discard-which = Which
discard-why = Why
discard-amount = How much, if not all of it
discard-text = Never down the drain: dispose of it as its safety data sheet and local rules say.
discard-done = Write down what was thrown away
reason-expired = Past its use-by
reason-spilled = Spilled
reason-damaged = Broken, frozen or separated
reason-returned = Sent back to the supplier

went = Where it went
went-nothing = Nothing has moved yet.
went-received = Received
went-opened = Opened
went-mixed = Mixed
went-poured = Poured
went-counted = Counted
went-same = as in the books
went-discarded = Thrown away
went-returned = Sent back
went-reversed = Reversed

ahead = What is to come
ahead-drawn = What jobs will take in the next four weeks, with what is on hand and when to order; the lines below say the same
ahead-hand = On hand and good: { $amount } (solid line).
ahead-point = Order when on hand and on order together are { $amount } or less (dashed line).
ahead-demand = Jobs of the next 14 days likely take { $middle }; nine times in ten no more than { $most }.
ahead-order = On its way: { $amount }.
ahead-lasts = It likely lasts { $days } days.
ahead-lasts-from = It likely lasts { $from } to { $to } days.
ahead-lasts-long = It likely lasts { $days } days or more.
takes-title = What jobs take of it
takes = { $mean } on average, likely between { $low } and { $high }, at medium size and condition 3. Used on { $share } of them; { $jobs } { $jobs ->
    [one] job
   *[other] jobs
 } seen.

container-title = { $id }, { $product }
container-heading = Container { $id }
container-label = Its label
container-print = Print its label
qr-text = The code on its label opens this page. A phone’s camera reads it.
qr-leads = Code that opens { $address }
known-lot = Lot
known-came = Came
known-mixed = Mixed
known-opened = Opened
known-best-before = Best before
known-supplier = From

labels-title = Labels
labels-sheet = { $count } { $count ->
    [one] label
   *[other] labels
 }
labels-print-text = Each is 62 × 29 mm. Print at full size, without headers of the browser’s own.
labels-too-many = { $count } more do not fit on one sheet: print them after.
labels-print = Print
labels-choose = Choose containers
labels-find = Find by name, lot or container
labels-none = No container is called that.
labels-text = Those that came within a week are chosen.
labels-choice = { $product } · { $id } · { $state } · { $came }
labels-more = { $count } more: find them by name.
labels-make = Make the sheet
label-lot = Lot { $lot }
label-until = Use by { $day }
label-opened = Opened { $day }
label-opened-until = Opened { $opened } · use by { $day }
label-opened-on = Opened on
label-signal = { $signal }: read the bottle’s own label

count-title = Count the shelf
count-progress = { $number } of { $all }
count-counted = { $counted } of { $all } products are counted today.
count-skip = Skip
count-books = What the books say
count-last = last counted { $day }
count-never = never counted
count-again = Go through the skipped ones
count-to-shelf = To the shelf

cautions = Take care
cautions-more = What to take care of
cautions-wear = Have on
cautions-rules = Mind
cautions-hazards = What its codes mean
cautions-defer = The safety data sheet, your local rules and licensed practice come before anything said here.
signal-danger = Danger
signal-warning = Warning
wear-gloves = Gloves that withstand it
wear-goggles = Goggles that close on all sides
wear-respirator = A respirator with the filter that its safety data sheet names, worn clean-shaven and tested for fit
wear-ventilation = Doors open and air moving, away from your face
rule-acid = Never let it meet chlorine, bleach or another cleaner, not even in a drain or a rag: poisonous gas may come of it.
rule-bleach = Never let it meet an acid, such as wheel cleaner or water spot remover, or ammonia: poisonous gas comes of it.
rule-into-water = Mixing: cold water first, then the product, slowly. Never water into the product: it boils and spits.
rule-water-first = Mixing: water first, then the product; it foams less and spits less.
rule-fire = Keep it away from heat, flames, sparks, hot engines and battery chargers. Rags go into a lidded metal bin: they can catch fire by themselves.
rule-pressure = Under pressure: not above 50 °C, not in the sun in a parked car, never pierced or burnt, even when empty.
rule-isocyanate = May hold isocyanates or the like, which can bring on asthma for life. Licensed practice only: trained and under health checks, with a suitable respirator. No spraying without extraction. Whoever had asthma from it stays away.
rule-bottle = Keep it in its own labelled bottle; a spray bottle gets a label too. Never into a drinks bottle.

hazard-unknown = Look this code up in its safety data sheet.
hazard-GHS01 = May explode
hazard-GHS02 = Catches fire
hazard-GHS03 = Makes fires stronger
hazard-GHS04 = Gas under pressure
hazard-GHS05 = Eats into skin, eyes or metal
hazard-GHS06 = Poisonous, even a little of it
hazard-GHS07 = Harms or irritates
hazard-GHS08 = Can harm your health for long
hazard-GHS09 = Harms life in water
hazard-H220 = The gas catches fire extremely easily
hazard-H221 = The gas catches fire
hazard-H222 = The spray can’s mist catches fire extremely easily
hazard-H223 = The spray can’s mist catches fire
hazard-H224 = Liquid and vapour catch fire extremely easily
hazard-H225 = Liquid and vapour catch fire very easily
hazard-H226 = Liquid and vapour catch fire
hazard-H227 = Can burn once it is warm
hazard-H228 = The solid catches fire
hazard-H229 = The can is under pressure and may burst when hot
hazard-H230 = May explode even without air
hazard-H231 = May explode even without air, under pressure or heat
hazard-H232 = The gas may catch fire by itself in air
hazard-H240 = May explode when hot
hazard-H241 = May catch fire or explode when hot
hazard-H242 = May catch fire when hot
hazard-H250 = Catches fire by itself in air
hazard-H251 = Heats up by itself and may catch fire
hazard-H252 = In large amounts heats up by itself and may catch fire
hazard-H260 = With water gives off gases that may catch fire by themselves
hazard-H261 = With water gives off gas that catches fire
hazard-H270 = Can start fires or make them stronger
hazard-H271 = May set things on fire or explode: feeds fires strongly
hazard-H272 = Makes fires stronger
hazard-H280 = Gas under pressure: may explode when hot
hazard-H281 = Very cold gas: can burn by its cold
hazard-H282 = Under pressure, catches fire extremely easily: may explode when hot
hazard-H283 = Under pressure, catches fire: may explode when hot
hazard-H284 = Under pressure: may explode when hot
hazard-H290 = May eat into metal
hazard-H300 = Kills if swallowed
hazard-H301 = Poisonous if swallowed
hazard-H302 = Harms if swallowed
hazard-H303 = May harm if swallowed
hazard-H304 = Can kill if swallowed and it gets into the lungs
hazard-H305 = May kill if swallowed and it gets into the lungs
hazard-H310 = Kills through the skin
hazard-H311 = Poisonous through the skin
hazard-H312 = Harms through the skin
hazard-H313 = May harm through the skin
hazard-H314 = Burns skin badly and damages eyes
hazard-H315 = Irritates skin
hazard-H316 = Irritates skin a little
hazard-H317 = Can make skin allergic to it
hazard-H318 = Damages eyes for good
hazard-H319 = Irritates eyes badly
hazard-H320 = Irritates eyes
hazard-H330 = Kills if breathed in
hazard-H331 = Poisonous if breathed in
hazard-H332 = Harms if breathed in
hazard-H333 = May harm if breathed in
hazard-H334 = Can bring on allergy or asthma if breathed in
hazard-H335 = Can irritate nose, throat and lungs
hazard-H336 = Can make you drowsy or dizzy
hazard-H340 = Can damage genes
hazard-H341 = Is suspected of damaging genes
hazard-H350 = Can cause cancer
hazard-H351 = Is suspected of causing cancer
hazard-H360 = Can harm fertility or an unborn child
hazard-H361 = Is suspected of harming fertility or an unborn child
hazard-H362 = May harm children at the breast
hazard-H370 = Damages organs
hazard-H371 = May damage organs
hazard-H372 = Damages organs when breathed or touched again and again
hazard-H373 = May damage organs when breathed or touched again and again
hazard-H400 = Very poisonous to life in water
hazard-H401 = Poisonous to life in water
hazard-H402 = Harms life in water
hazard-H410 = Very poisonous to life in water, for long
hazard-H411 = Poisonous to life in water, for long
hazard-H412 = Harms life in water, for long
hazard-H413 = May harm life in water, for long
hazard-H420 = Harms the ozone layer
hazard-EUH018 = Its vapour in air may catch fire or explode
hazard-EUH029 = Gives off poisonous gas when it meets water
hazard-EUH031 = Gives off poisonous gas when it meets an acid
hazard-EUH032 = Gives off very poisonous gas when it meets an acid
hazard-EUH066 = Dries and cracks skin when touched again and again
hazard-EUH070 = Poisonous through the eyes
hazard-EUH071 = Eats into nose, throat and lungs
hazard-EUH204 = Holds isocyanates: can bring on allergy
hazard-EUH205 = Holds epoxy: can bring on allergy
hazard-EUH206 = Never together with other products: may give off chlorine
hazard-EUH208 = Holds a little that can bring on allergy: its label names it
hazard-EUH209 = May catch fire very easily while it is used
hazard-EUH210 = Its safety data sheet can be asked for
