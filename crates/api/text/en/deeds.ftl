# What was done, as it is told once it was and in the list of who did what.
deed-job-booked = Job { $of } is booked.
deed-job-changed = Job { $of } is changed.
deed-job-started = Job { $of } is started.
deed-job-cancelled = Job { $of } is cancelled.
deed-job-finished = Job { $of } is finished, and what it took is deducted.
deed-poured = The pour of { $of } is written down.
deed-opened = The opening of { $of } is written down.
deed-mixed = The mix of { $of } is written down.
deed-discarded = What was thrown away of { $of } is written down.
deed-counted = The count of { $of } is written down.
deed-received = What came in of { $of } is on the shelf.
deed-order-placed = Order { $of } is placed.
deed-order-changed = Order { $of } is changed.
deed-reversed = { $of } is reversed.
deed-undone = Undone.
deed-product = Product { $of } is saved.
deed-supplier = Supplier { $of } is saved.
deed-offer = The offer { $of } is saved.
deed-job-type = Job type { $of } is saved.
deed-usage-sheet = The usage sheet of { $of } is saved.
deed-shop = The shop’s settings are saved.
deed-imported = What was new was taken over.
deed-person-added = { $of } can sign in.
deed-person-changed = What { $of } is called or may do is changed.
deed-password-set = { $of } has another password.
deed-person-ended = { $of } cannot sign in any more.
deed-token-made = Made: { $of }.
deed-token-revoked = Revoked: { $of }.
deed-sign-in-wrong = Wrong password for { $of }{ $count ->
    [one] .
   *[other] , { $count } times.
 }
deed-sign-in-unknown = Tried to sign in with a name that nobody has{ $count ->
    [one] .
   *[other] , { $count } times.
 }
deed-sign-in-unlocked = { $of } may try to sign in again at once.
deed-signed-out = { $of } was signed out.
deed-all-signed-out = Everybody was signed out.
deeds-from = From { $address }.
deeds-somebody = somebody
deed-vehicle-erased = A vehicle’s name is erased. Jobs: { $of }
