# Signing in, the first run, people.
sign-in-title = Sign in
sign-in-name = Sign-in name
sign-in-password = Password
sign-in-do = Sign in
sign-in-forgot = A forgotten password is set anew by the owner, or by whoever runs the service.
sign-in-wrong = No one signs in with this name and password.
sign-in-wait = Too many wrong passwords: try again in { $seconds } { $seconds ->
    [one] second
   *[other] seconds
 }.

welcome-title = Open the shop
welcome-text = Nobody has signed in here yet. Give the shop its name and become its owner.
welcome-code = Code that the service printed when it started
welcome-shop = Name on the door
welcome-zone = Time zone
welcome-currency = Currency
welcome-units = Units
welcome-do = Open the shop

people-name = Your name
people-sign-in = Name to sign in with
people-password = Password, at least 10 characters

passwords-busy = Many are signing in at this moment. Try again in a few seconds: nothing was changed.

confirm-label = Your own password
confirm-missing = give your own password, so that nobody does this on a phone that you left
confirm-owner = Only where it is about an owner.

sessions-title = Where they are signed in
sessions-none = They are not signed in anywhere.
sessions-since = signed in { $day }
sessions-seen = last seen { $day }
sessions-this = this one
sessions-end = Sign out
sessions-end-all = Sign them out everywhere
device-phone = Phone
device-tablet = Tablet
device-computer = Computer
device-unknown = A browser

people-sign-all-out = Sign everybody out
people-sign-all-out-text = Everybody signs in again, on every phone and computer but this one.
people-sign-all-out-do = Sign everybody out now
people-did-session-ended = Signed out there.
people-did-signed-out = They are signed out everywhere.
people-did-all-signed-out = Everybody is signed out, but for you here.
people-end-tokens = These tokens that they made stop working too: { $tokens }.
people-tokens-gone = { $tokens } { $tokens ->
    [one] token that they made does not work any more.
   *[other] tokens that they made do not work any more.
 }
tokens-by = by { $name }
tokens-before = This token was made already, when you sent the form the first time. Its text was shown once, on that page. Did you miss it? Revoke the token and make another.
