# Setting up, people, who did what.
more-orders = Orders
more-orders-text = What is on its way, and what came.
more-count = Stock-taking
more-count-text = Count or weigh what is on the shelf.
more-labels = Labels
more-labels-text = For bottles, with what a scan opens.
more-usage = Usage
more-usage-text = What jobs really take.
more-costs = Costs
more-costs-text = What jobs cost in product, and what was wasted.
more-backtest = Backtest
more-backtest-text = How the plan would have done in past weeks.
more-setup = Setup
more-setup-text = Shop, suppliers, products, job types, the shop folder.
more-people = People
more-people-text = Who may sign in, and as what.
more-me = You
more-me-text = Your password, and where you are signed in.
more-deeds = Who did what
more-deeds-text = Everything that was done, the last first; most of it can be undone.
more-docs = For programs
more-docs-text = Everything that programs can ask and do.
more-sign-out = Sign out
more-sign-out-all = Sign out everywhere

setup-title = Setup
setup-save = Save
setup-back = Back
setup-beside = Beside it
setup-count-text = Count the shelf once the products are set up: the plan begins with what is there.
setup-folder-text = The whole shop as files: take it out, bring it in.
setup-tokens-text = What programs speak with.
setup-id-taken = another one has this id: choose another, or leave it empty
setup-clash-title = Somebody saved this while you had it open.
setup-clash-text = What you typed still stands below, and beside each field that differs what is saved now. Save again to put yours in its place.
setup-clash-saved = Saved now: { $what }
setup-clash-nothing = nothing
setup-shop = Shop and calendar
setup-shop-stands = { $zone }, weekly order on { $day }
setup-shop-next = Look that closed days, the cost of a stall and the budget are yours.
setup-products = { $count } { $count ->
    [one] product
   *[other] products
 }
setup-products-none = Next: add what stands on your shelf.
setup-products-some = Next: { $count } { $count ->
    [one] has
   *[other] have
 } no offer. What no supplier sells is never on the weekly order: add its offer at the supplier.
setup-products-all = Each has an offer. Once they are on the shelf, count them.
setup-types = { $count } { $count ->
    [one] job type
   *[other] job types
 }, { $rows } { $rows ->
    [one] row
   *[other] rows
 } on their sheets
setup-types-none = Next: add what you sell, and what you expect it to take.
setup-types-some = Next: { $count } { $count ->
    [one] has
   *[other] have
 } an empty usage sheet. Nothing is deducted for a job whose sheet is empty.
setup-types-all = Each has a usage sheet. Its numbers need not be right: jobs and counts teach.
setup-suppliers = { $count } { $count ->
    [one] supplier
   *[other] suppliers
 }, { $rows } { $rows ->
    [one] offer
   *[other] offers
 }
setup-suppliers-none = Next: add who you buy from.
setup-suppliers-some = Next: add what they sell, and for how much.
setup-suppliers-all = Lead times are learned from your orders and receipts.

start-title = A set to start from
start-offer = Twelve job types of the trade, brand-free products and the usage sheet between them are ready: tick what fits, and change it afterwards.
start-look = Look at the set
start-folder = Bring in a shop folder
start-again = Job types and products of the trade, to add what is not there yet.
start-text = What is ticked is added in one go. What you have already stays as it is. Prices and suppliers are yours to add.
start-memory = The numbers are common practice, from memory: a place to start, not advice. Hazards are on the careful side; the label and the safety data sheet of what you really buy come first.
start-there = is there already
start-open = good for { $days } days once opened
start-do = Add what is ticked
start-nothing = tick something that is not there yet

suppliers-title = Suppliers and offers
suppliers-text = Who you buy from, in which packs and for how much. The weekly order is made by supplier.
suppliers-add = Add a supplier
suppliers-empty = Nobody is here yet. Without a supplier there is no weekly order.
suppliers-what = { $days } days to the shelf, { $offers } { $offers ->
    [one] offer
   *[other] offers
 }
suppliers-no-offer = no offer yet
supplier-new = A new supplier
supplier-name = Name
supplier-lead-days = Days from order to shelf
supplier-lead-days-help = As they say it. Your orders and receipts teach the rest.
supplier-lead-days-sd = Give or take, in days
supplier-lead-days-sd-help = How much that varies (standard deviation). Empty: not known.
supplier-order-weekdays = Takes orders on
supplier-order-weekdays-help = None ticked: on any day.
supplier-freight = Freight of a delivery
supplier-freight-help = Empty: nothing.
supplier-free-freight-over = Freight-free from
supplier-free-freight-over-help = Goods of this value or more come freight-free. The order fills up to it where that pays.
supplier-minimum-order = Least order
supplier-minimum-order-help = Goods of less are not ordered here. Empty: any.
supplier-id = Id
supplier-id-help = What it is called in files and for programs. Empty: made from the name.

offers-title = Offers
offers-text = One way to buy one product: what a pack holds and what it costs.
offers-what = { $pack } in a pack, { $price }
offers-is-preferred = preferred
offers-price = Price of the pack, { $currency }
offers-code = Their code
offers-minimum = Least packs
offers-preferred = I would rather buy it here
offers-save = Save the offer
offers-new = Another offer
offers-pack = Containers in a pack
offers-add = Add the offer
offers-no-products = First set up what you buy:
offers-later = Once it is saved, its offers can be added.

products-title = Products
products-text = What you buy again: how it comes, how long it lasts, what to wear.
products-add = Add a product
products-empty = Nothing is here yet. Add what stands on your shelf, or start from a set.
products-no-offer = no offer
product-new = A new product
product-part-what = What it is
product-part-lives = How long it lasts
product-part-safety = Safety
product-part-scale = Scale and barcode
product-part-rest = Beside it
product-name = Name on the shelf
product-container-size = A full container holds
product-container-size-help = Of the unit below. Another size of the same is another product, or a receipt’s own size.
product-unit = Unit
product-unit-help = It stays once something came in.
product-form = How it is sold
product-form-ready = Ready to use
product-form-concentrate = Concentrate, cut with water
product-category = Group
product-category-help = A word to group by, such as wash or polish.
product-id = Id
product-id-help = What it is called in files and for programs. Empty: made from the name.
product-shelf-days = Days sealed
product-shelf-days-help = From the day it came, where the container shows no date.
product-open-days = Days once opened
product-open-days-help = Coatings that cure have few. Empty: no limit.
product-mix-days = Days once mixed
product-mix-days-help = How long a bottle of it cut with water is good.
product-pictograms = Pictograms on the label
product-statements = Hazard statements
product-statements-help = The H-codes of the label or the safety data sheet, such as H319, one on a line.
product-protection = What to wear or switch on
product-protection-help = Shown wherever it is poured. The safety data sheet says it in full.
product-density-g-ml = Grams in a millilitre
product-density-g-ml-help = To count by weight. Water is 1; the safety data sheet has it as density.
product-tare-g = Empty container, in grams
product-tare-g-help = Taken off what the scale shows.
product-gtin = Number of the barcode
product-gtin-help = 8, 12, 13 or 14 digits (GTIN).
product-substitutes = Serves in its place
product-substitutes-help = Best first. A job that would stall takes it instead.
product-notes = Notes
product-on-shelf = See it on the shelf
protection-gloves = gloves
protection-goggles = goggles
protection-respirator = respirator
protection-ventilation = ventilation
pictogram-GHS01 = GHS01 exploding bomb: explosive
pictogram-GHS02 = GHS02 flame: flammable
pictogram-GHS03 = GHS03 flame over a circle: oxidising
pictogram-GHS04 = GHS04 gas cylinder: gas under pressure
pictogram-GHS05 = GHS05 corrosion: corrosive
pictogram-GHS06 = GHS06 skull and crossbones: toxic
pictogram-GHS07 = GHS07 exclamation mark: irritant, harmful
pictogram-GHS08 = GHS08 health hazard: harms health for long
pictogram-GHS09 = GHS09 environment: hazard to waters
ratios-title = Ratios that it is used at
ratios-text = Parts of water to one of product, under a name of yours: “wheels” 5 : 1.
ratios-label = Name
ratios-water = Water to product
ratios-add = Add the ratio

job-types-title = Job types and usage sheet
job-types-text = What you sell, and what you expect it to take.
job-types-add = Add a job type
job-types-empty = Nothing is here yet. Add what you sell, or start from a set.
job-types-what = { $count } { $count ->
    [one] product
   *[other] products
 } on its sheet
job-types-no-sheet = empty sheet
job-type-new = A new job type
job-type-name = Name
job-type-price = Price
job-type-price-help = What you ask for it at medium size. Only for costs and margins.
job-type-stall-cost = Cost of a stall
job-type-stall-cost-help = What one such job costs you that cannot go on for want of a product. Empty: as the shop has it.
job-type-return-days = Comes back after days
job-type-return-days-help = Some come back, such as a coated vehicle for its care. They are expected until they are booked.
job-type-return-share = Share that comes back
job-type-return-share-help = 0.6 is six in ten.
job-type-return-job-type = Comes back for
job-type-return-same = the same
job-type-id = Id
job-type-id-help = What it is called in files and for programs. Empty: made from the name.
sheet-title = Usage sheet
sheet-text = For a medium vehicle in condition 3. With water, the quantity is of the mix: 600 mL at 10 : 1. A row whose product is “None” is taken off the sheet.
sheet-more = Another product
sheet-quantity = Quantity
sheet-own-unit = the product’s
sheet-water = Parts of water
sheet-share = Share of jobs (empty: all)
sheet-log-sd = How unsure (0.5)
sheet-saved = The sheet that is saved now:

shop-text = Money is in { $currency }, and stays so: prices are in it.
shop-part-door = The shop
shop-part-calendar = Calendar
shop-part-advice = How it is advised
shop-part-sizes = Vehicle sizes
shop-part-conditions = Conditions
shop-name = Name on the door
shop-timezone = Time zone
shop-timezone-help = Where days begin and end. Another one moves days of the past too.
shop-units = Units
shop-units-help = How quantities are shown. What is written down stays exact.
shop-order-weekday = Day of the weekly order
shop-closed = No jobs on
shop-closed-days = Closed days
shop-closed-days-help = Holidays and leave, such as 2026-12-25, one on a line.
shop-stall-cost = Cost of a stall
shop-stall-cost-help = What one job costs you that cannot go on for want of a product, where its job type says nothing else. The dearer, the more is kept.
shop-service = Chance to last
shop-service-help = The least chance that a product lasts from one order to the next: 0.95 is nineteen in twenty.
shop-holding-rate = Cost of keeping, a year
shop-holding-rate-help = Money and space, as a share of what the stock is worth: 0.25 is a quarter.
shop-budget = Most for one weekly order
shop-budget-help = What saves most for its money is bought first. Empty or 0: no limit.
shop-sizes-small = Small
shop-sizes-small-help = How much of what a medium one takes, before anything is learned.
shop-sizes-medium = Medium
shop-sizes-large = Large
shop-sizes-oversize = Oversize
shop-conditions-1 = 1, well kept
shop-conditions-1-help = How much of what condition 3 takes, before anything is learned.
shop-conditions-2 = 2
shop-conditions-3 = 3, as usual
shop-conditions-4 = 4
shop-conditions-5 = 5, neglected
weekday-mon = Monday
weekday-tue = Tuesday
weekday-wed = Wednesday
weekday-thu = Thursday
weekday-fri = Friday
weekday-sat = Saturday
weekday-sun = Sunday

folder-title = Shop folder
folder-text = Your shop as plain files that a spreadsheet edits: one for its settings, one for each kind of row.
folder-out = Take it out
folder-out-text = Everything that the shop has written down, in one archive of files. It is yours: keep a copy, look into it, plan from it with no service at all.
folder-out-do = Download shop.zip
folder-in = Bring it in
folder-in-text = Choose the files, or the archive of them. Only what is new is added; rows are known by their id. Settings, products, suppliers and job types that you do not send are those that are here. One error, and nothing is changed.
folder-files = Files (.csv, shop.toml or .zip)
folder-in-do = Bring in what is new
folder-none = choose at least one file
folder-unchanged = Nothing was changed.
folder-errors = What is wrong
folder-file = File
folder-line = Line
folder-column = Column
folder-wrong = What stands there, and what should

people-title = People
people-text = Everybody signs in as themselves: then it is known who did what.
people-you = you
people-ended = does not sign in any more
people-add = Add somebody
people-called = Name
people-role = Role
people-taken = somebody signs in with this already: choose another
role-owner = Owner
role-owner-text = Everything: costs, setup and people too.
role-helper = Helper
role-helper-text = Pours, counts, receives, books and finishes jobs. No costs, no setup.
people-new-password = Set a new password
people-new-password-text = Where they are signed in now they are signed out. Tell it to them; they can change it.
people-end = They do not work here any more
people-end-text = { $name } is signed out at once and cannot sign in again. What they did stays.
people-end-do = { $name } does not sign in any more
people-did-added = They can sign in now.
people-did-edited = Saved.
people-did-password = The new password is set.
people-did-ended = They cannot sign in any more.
people-did-made = The token is made.
people-did-revoked = The token is good for nothing now.

me-password = Another password
me-password-text = Everywhere else you are signed out then.
me-old = The one you have
me-new = The new one, at least 10 characters
me-do = Change the password
me-old-wrong = this is not the one that you have
me-signed-in = Where you are signed in
me-signed-in-text = A browser stays signed in for 30 days. Was a phone lost? Sign out everywhere, then change the password.

tokens-title = Tokens for programs
tokens-text = A program speaks with a token of its own. What it may do hangs on the token, and who did what tells its name.
tokens-made-title = The token
tokens-once = Copy it now: it is shown this once.
tokens-one = Token
tokens-none = There are none.
tokens-made = made { $day }
tokens-ends = ends { $day }
tokens-revoked = revoked { $day }
tokens-revoke = Revoke
tokens-new = Make a token
tokens-label = What it is for
tokens-scope = It may
tokens-days = Days until it ends by itself (empty: it does not)
tokens-do = Make the token
scope-read = Look
scope-shelf = Look, and write down what happens
scope-setup = Everything: set up too

deeds-title = Who did what
deeds-none = Nothing was done yet.
deeds-program = the program
deeds-token = token { $label }
deeds-undone = Undone: { $what }
deeds-is-undone = (undone)
deeds-before = Before these
deeds-newest = The newest
