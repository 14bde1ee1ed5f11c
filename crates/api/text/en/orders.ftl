# The weekly order, orders, going off.
order-title = Weekly order
order-open = On the way: { $count } { $count ->
    [one] order
   *[other] orders
 }
order-none-open = Orders
order-count-first = Before you order
order-count-do = Count
order-empty = Nothing has to be ordered this week.
order-place-by = Place it by { $day }.
order-arrives = Here by { $p50 } as likely as not; by { $p90 } nine times in ten.
order-code = code { $code }
order-holds-none = Left out
order-holds-one = { $packs } × { $size }
order-holds-piece = { $packs } { $packs ->
    [one] piece
   *[other] pieces
 }
order-holds = { $packs } { $packs ->
    [one] pack
   *[other] packs
 } of { $pack } × { $size } ({ $containers } in all)
order-holds-pieces = { $packs } { $packs ->
    [one] pack
   *[other] packs
 } of { $pack } ({ $containers } in all)
order-price = { $price } a pack; 0 leaves it out.
order-packs = Packs
order-packs-of = of { $product }
order-packs-wrong = found { $found }, expected a whole number of packs such as 2, or 0 to leave it out
order-some-wrong = Some numbers of packs are not as they should be.
order-added = Added by you. How it changes the chance of a stall was not tried.
order-option = { $name }, pack of { $pack }
order-skip = A job stalls for it: { $without } if it is left out, { $with } if it is ordered.
order-skip-same = A job stalls for it before the next order is there: { $with }, ordered or not.
order-instead = With { $packs } instead of { $advised } the chance of a stall is { $chance }.
order-instead-more = With { $packs } instead of { $advised } the chance of a stall is { $chance } at most: more was not tried.
order-instead-between = With { $packs } instead of { $advised } the chance of a stall is between { $low } and { $chance }.
order-least-packs = The supplier sells { $packs } packs at least.
order-waste = Of it, { $amount } is expected to go off unused.
order-parts = What it is made of
order-part-booked = { $count } booked { $count ->
    [one] job
   *[other] jobs
 }, until { $day }
order-part-not-booked = Jobs not booked yet; { $amount } a day in all
order-part-lead-time = As a delivery may come earlier or later
order-part-safety = For jobs that take more
order-part-level = To be ready for
order-part-last = For this order to last until { $day }
order-part-up-to = To order up to
order-part-goes-off = Goes off before that
order-part-hand = On the shelf
order-part-coming = On its way
order-part-missing = Missing
order-part-enough = None is missing: more is there
order-part-more = More: packs are whole, and so many cost least
order-part-less = Less: packs are whole, and so many cost least
order-part-further = More, as you chose
order-part-fewer = Less, as you chose
order-part-bought = This order
order-more = Add something from { $supplier }
order-more-which = Also from { $supplier }
order-all-the-same = Order from { $supplier } all the same
order-goods = Goods
order-freight = Delivery
order-total = Total
order-all = All orders of this week
order-is-free = The delivery is free from { $from } on.
order-to-free = { $missing } more, and the delivery is free (from { $from } on).
order-below-minimum = { $missing } short of the minimum order of { $minimum }: the supplier may not take it.
order-above-minimum = The minimum order of { $minimum } is reached.
order-see = See what that does
order-place = Place with { $supplier }
order-place-anyway = Place with { $supplier } below the minimum
order-place-text = Placing writes the order down here; then print it or send it to the supplier.
order-below-refused = This is below the minimum order of { $minimum }. Add to it, or place it below the minimum if the supplier agreed.
order-nothing = Every line is left out: an order has at least one pack.
order-waiting = Suppliers that wait
order-can-wait = Nothing of it has to be ordered this week.
order-owner-places = The owner places orders.

orders-title = Orders
orders-to-weekly = What to order this week
orders-open = On the way
orders-none-open = No order is on the way.
orders-past = Past
orders-older = Older ones
orders-to-come = { $count } { $count ->
    [one] container
   *[other] containers
 } to come; by the supplier’s word by { $day }
orders-late = { $count } { $count ->
    [one] container
   *[other] containers
 } to come; late: by the supplier’s word due { $day }
orders-came = All of it came
orders-over = Over
orders-cancelled = Cancelled
orders-one = { $supplier }, { $day }
orders-all = All orders
orders-print = Print or send
orders-paper = Order to { $supplier }
orders-lines = What was ordered
orders-waits = { $count } { $count ->
    [one] container is
   *[other] containers are
 } still to come.
orders-line-came = all { $came } came
orders-line-nothing = { $missing } to come
orders-line-part = { $came } came, { $missing } to come
orders-line-not = { $came } came, { $missing } did not
orders-goods-today = Goods, at today’s prices
orders-came-title = What came
orders-came-line = { $count } { $count ->
    [one] container
   *[other] containers
 }, { $day }
orders-came-lot = { $count } { $count ->
    [one] container
   *[other] containers
 } of lot { $lot }, { $day }
orders-came-other = not ordered
orders-over-title = When no more will come
orders-cancel-text = Nothing of it has come. Tell the supplier too.
orders-cancel = Cancel the order
orders-cancel-came = Something of this order has come: say that the rest will not come.
orders-cancel-owner = Nothing of it has come: the owner can cancel it.
orders-end-text = What is missing is not counted on any more.
orders-end = The rest will not come

receive-title = Receive what came
receive-late = Something came after all, or came with it
receive-later = Receive from { $supplier }
receive-text = Filled in is what is still to come. Write what is there: what is missing stays open. Two lots of one product? Receive the first, then the second.
came-containers = Containers that came
came-lot = Lot on the label
came-best-before = Best before
came-cost = Price of one container
receive-other = The wrong thing came, or something else
receive-other-text = Put 0 at what did not come, and say here what came in its place.
receive-rest = The rest will not come
came-do = Put it on the shelf
receive-nothing = Write how many containers came; nothing was written down.
receive-which = say which product came
receive-field-containers = containers
receive-field-unit_cost = price of one container
receive-field-best_before = best before
receive-field-lot = lot
receive-field-at = when

paper-title = Order
paper-to = To
paper-from = From
paper-day = Date
paper-number = Number
paper-code = Code
paper-holds = What that is
paper-print = Print
paper-back = Back to the order

off-title = Going off
off-nothing = Nothing goes off: all that is on the shelf will be used in time.
off-cost = Expected to be lost
off-past = Past their use-by
off-past-text = Not to be used any more. Open or sealed, write down that they are gone.
off-open = Open
off-open-text = Use these before you open another.
off-sealed = Sealed
off-sealed-text = Not opened yet.
off-far = { $count } more, good for over three months
off-left = { $amount } left
off-still-sealed = { $amount }, sealed
off-mix = { $amount } of the { $water }:1 mix left
off-good = { $what }. Good until { $day }, { $days } { $days ->
    [one] day
   *[other] days
 } from now.
off-today = { $what }. Today is its last day.
off-was-good = { $what }.
off-expected = Expected to be lost of it: { $cost }.
off-lost = What is left of it cost { $cost }.
off-later = Throw away { $container }
off-throw = Throw away
