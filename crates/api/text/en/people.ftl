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
