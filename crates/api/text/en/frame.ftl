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
wear = wear { $what }
amount-of = Amount of { $product }
measure-of = Measure of { $product }
of-mix = of a mix at
units-metric = Metric: mL, L, g, kg
units-us = US: fl oz, gal, oz, lb
