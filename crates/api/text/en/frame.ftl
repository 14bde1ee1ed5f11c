# What stands around every page.
skip = Skip to the page
nav = Parts
nav-today = Today
nav-shelf = Shelf
nav-order = Order
nav-going-off = Going off
nav-jobs = Jobs
nav-more = More
undo = Undo
undo-owner = This is the owner’s to undo: ask them, or say what is to be changed.
notice-undone = { $what } This was undone.
defer = Before you use a product, read its safety data sheet. It, your local rules and licensed practice come before anything said here.
to-today = To today
trouble-sign-in = Sign in again
trouble-owner = This is the owner’s
trouble-nowhere = Nothing stands at this address: it was mistyped, or what stood here is gone.
trouble-request = In the service’s log this is { $id }.
offline-title = No signal
offline-text = This page was not kept on the phone. Finishing a job, a pour, an opening or a count can still be written down on the pages that were: they are sent when there is signal.

day-today = today
day-tomorrow = tomorrow
day-yesterday = yesterday

# What the script says, which puts in what stands in braces.
step-less = { $name }: less
step-more = { $name }: more
waiting-kept = Kept on this phone until there is signal: { $names }.
waiting-refused = not taken: { $status }
waiting-let-go = Let go of: { $name }
waiting-sent-one = What was kept on this phone is sent.
waiting-sent-all = All { $count } that were kept on this phone are sent.

stretch-pages = Pages of the list
stretch-before = Before these
stretch-next = After these
product = Product
amount = Amount
measure = Measure
none = None
left = { $amount } left
pieces = { $count } { $count ->
    [one] piece
   *[other] pieces
 }
wear = wear { $what }
amount-of = Amount of { $product }
measure-of = Measure of { $product }
of-mix = of a mix at
units-metric = Metric: mL, L, g, kg
units-us = US: fl oz, gal, oz, lb

# Fields of forms, where one is not as it should be.
field-code = Code
field-condition = Condition
field-container-size = A full container holds
field-currency = Currency
field-density-g-ml = Grams in a millilitre
field-freight = Freight of a delivery
field-free-freight-over = Freight-free from
field-gtin = Number of the barcode
field-hazards = Hazards
field-job-types = What is to be done
field-lead-days = Days from order to shelf
field-minimum-order = Least order
field-minimum-packs = Least packs
field-mix-days = Days once mixed
field-name = Name
field-open-days = Days once opened
field-pack = Containers in a pack
field-old = The password you have
field-own-password = Your own password
field-packs = Packs
field-password = Password
field-planned-on = Day
field-price = Price
field-product = Product
field-shelf-days = Days sealed
field-shop = Name on the door
field-sign-in = Name to sign in with
field-size = Size
field-tare-g = Empty container, in grams
field-timezone = Time zone
field-vehicle = Vehicle
