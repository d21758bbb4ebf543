# The words of the pages, in Project Fluent's syntax (projectfluent.org).
# Findings, holds and reasons are worded as the messages word them. A word of a sign must fit 64 px: short, or two words.

## Hours

days = Mon Tue Wed Thu Fri Sat Sun
months = Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec
hour-of-day = { $day } { $time }
hour-of-date = { $date } { $month } { $time }
hour-whole = { $day } { $date } { $month } { $year } { $time } UTC{ $offset }

## The frame of every page

language-name = English
skip = To the content
nav-board = Board
nav-people = People
nav-devices = Screens
nav-settings = Settings
nav-label = Pages
served = Page of { $hour }
heard = Server heard
no-contact = No contact with the site server. This page shows { $hour }. Do not act on it until contact is back.
signed-in = Signed in: { $person }, { $role }
device-reads = Screen "{ $device }", reads only
not-signed-in = Not signed in
sign-out = Sign out
sign-in = Sign in
demo = Demo: an invented site. Whoever is at this machine acts for { $person } without a password; a real site asks for one.
caution = "Released" says that the requirement is met and signed, and nothing else. This page reports evidence, it permits nothing: the engineer of record, the contract and local code govern. No message = no release.
role-viewer = viewer
role-crew = crew
role-superintendent = superintendent
role-qc = QC
role-engineer = engineer
role-installer = installer
role-admin = admin
nobody-has-it = nobody yet

## Operations and signs

operation-strip = Strip
operation-walk = Walk
operation-load = Load
operation-full-load = Full load
operation-uncover = Uncover
sign-not-set-up = Not set up
sign-curing = Curing
sign-hold = Hold
sign-met = Sign-off wanted
    .unsigned = Met, not signed
sign-released = Released
sign-under-way = Under way
sign-done = Done
sign-withdrawn = With{"\u00AD"}drawn: keep off
    .strip = Keep forms on
    .walk = Keep off
    .load = Keep load off
sign-done-without = Done without release
    .strip = Off without release
sign-suspended = In doubt
sign-keep-off = Keep off
sign-stopped = In doubt
stripping-near = stripping below or beside
stopped-reason = nobody looks
signed-so-far = { $count } signed
not-looked-at = not looked at yet
being-confirmed = met, being confirmed
key-not-set-up = something that a person must supply is missing
key-curing = the requirement is not met; an hour is not given
key-hold = a doubt that a person must lift
key-met = the requirement is met and nobody, or not everybody, has signed
key-released = the requirement is met and signed; nothing else is said
key-under-way = the crew has begun
key-done = recorded as done
key-withdrawn = a release was contradicted, or STOP was pressed
key-done-without-release = found done although it was not released
key-suspended = clock, store or log of the service in doubt, or nobody looks: ask the engineer

## Board

board-title = Where each bay stands
bay = Bay
floor = Floor { $floor }
floors-label = Floors
all-floors = All
evidence = Evidence
to = to { $hour }
evidence-old = to { $hour }, old
no-reading = no reading yet
others = Others
group-look-first = Look at first
    .hint = something is wrong
group-released = Released and not done
    .hint = the crew can act, or is at it
group-sign-off = Sign-off wanted
    .hint = requirement met
group-curing = Curing
    .hint = requirement not met
group-done = Done
    .hint = recorded
no-pours = No pours yet.
no-pours-how = Begin one: slabhour pour start BAY POUR
what-signs-mean = What the shapes mean
doubt = Every gate is suspended, { $what } in doubt: { $reason }
doubt-clock = the clock of the service is
doubt-store = a store is
doubt-log = the log is
estimates-stopped = Estimates stopped { $hour }: the signs below are not today's. Call whoever looks after the server.
no-forecast = Hours ahead are not forecast yet: "Curing" stands without an hour.
clock-not-checked = This site does not ask whether the server's clock is right.
silence-not-watched = Nobody outside is told when this server falls silent.

## Sign in, settings

sign-in-title = Sign in
name = Name
password = Password
code = Code of your authenticator
sign-in-how = Names and links come from the admin of this site.
sign-in-wrong = This name and password do not go together.
sign-in-wait = Too many attempts. Try again in { $minutes } min.
open-text = This connection is not encrypted: what you type can be read on the way.
settings-title = Settings
language = Language
units = Units
units-SI = °C, MPa, mm
units-US = °F, psi, in
acting = Act for (demo)
keep = Keep
for-this-browser = For this browser.

## A one-time link, people, screens

welcome-title = Make your account
welcome-how = This link works once and until { $hour }.
password-new = Password, at least { $shortest } characters
password-again = Password again
second-factor = Second factor
second-factor-how = Scan this with an authenticator app, or type the key in, then give the code it shows. Every signature asks for a new code.
key = Key
make-account = Make account
wrong-title = Not done yet:
wrong-name = This name cannot be used here. Small letters, digits and "-"; people of the site file have their own links.
wrong-short = The password needs at least { $shortest } characters.
wrong-again = The two passwords differ.
wrong-code = The code is not right, or was used before. Wait for the next one.
wrong-taken = There is an account of that name already.
wrong-person = Choose somebody of the site file, or a new name with the role viewer or admin.
wrong-self = You cannot end your own account.
wrong-device = Give the screen a name of at most { $longest } characters.
people-title = People
people-how = What people of the site file may do is said there. Admins let people in and cannot sign.
role = Role
account-since = account since { $hour }
account-none = no account yet
account-ended = account ended
has-second-factor = second factor
invite-title = Let somebody in
invite = Make a one-time link
invite-how = The link makes the account, or makes it anew: the old password and second factor end then.
of-site-file = as in the site file
one-time-link = One-time link for { $person }. Hand it over now: it is shown once.
end = End account
end-of = End the account of { $person }
devices-title = Screens
devices-how = A screen with a key reads every page and does nothing. Whoever has the code has the screen's eyes.
add-device = Add a screen
device-name = Name, such as "hut"
device-link = Scan this with "{ $name }". It is shown once.
end-device = End
end-device-of = End "{ $name }"
no-devices = No screens.
device-title = Read with this screen
device-how = "{ $name }" will read the pages of { $site } without a person, until its key is ended.
device-take = Read here

## Bay, pour, sign, STOP

nav-sign = Sign
none = none
mix = mix { $mix }
pour-named = pour { $pour }
no-bay = There is no such bay
    .text = The board has every bay.
no-pour-here = No pour is open in this bay.
placed = Placed { $start } to { $end }
placed-since = Being placed since { $start }; the end is not entered
stopped-here = Nobody looks at this pour any more: what stands here is not today's.
signed-by = Signed by { $who }
not-released = Not released: { $what }.
not-by-this = Not released by this: { $what }.
excluded = Excluded: { $where }.
limit = The requirement is met, nothing else.
    .strip = No added load; once stripped the slab carries itself on bare joists.
    .walk = No added load, nothing stacked, not while forms are being stripped below.
limit-load = At most { $load }: slab on bare joists, spread load, no wheels, stacks or form bundles.
tap-under-way = Under way: { $what }
tap-done = Done: { $what }
hold-line = Hold: { $reason } (since { $since }, owner: { $owner })
hold-how = To lift it: { $how }
why = Why: { $what }
missing = Missing: { $what }
end-not-entered = end of pour not entered
counted-at = { $hours } at or above { $limit }
evidence-to = Evidence to
fact-age = Age
fact-bound = Lower bound of strength
fact-estimate = Strength, estimate
fact-coldest = Coldest
fact-counted = Counted hours
fact-governing = Governing sensor
curves = Cure curves
curves-shown = What part is shown
curves-last = last { $hours } h
curves-all = since the first concrete
curves-as-of = As read at { $hour }; load the page again for newer.
sensors = Sensors
stranger = Sign in to read this bay. STOP is for everybody.
pour-page = Pour start or end
stop-page = STOP
pour-title = Pour in bay { $bay }
pour-start-title = The first concrete is placed
pour-start = Pour start
pour-end-title = The last concrete is placed
pour-end-later = Concrete came later: the end is later
pour-end = Pour end
pour-name = Name of the pour
pour-closes = Pour { $pour } ends here for good: readings of this bay are the next pour's.
earlier = It was earlier: time of day (leave empty for now)
sign-none = Nothing waits for your signature.
sign-button = Sign what is ticked
sign-nothing = Tick what you sign.
sign-tick = Tick both sentences.
sign-moved = The evidence of { $what } has moved since you saw it, and nothing was signed. Look again.
sign-not-you = Password or code is not right, or the code was used before. Nothing was signed.
sign-refused = { $what } was not signed: { $why }
signed-now = Signed: { $what }. The crew is told.
box-read = I have read the findings above; the requirement is met.
box-nothing-else = What is ticked goes ahead by this signature, and nothing else.
stop-title = STOP, bay { $bay }
stop-how = This shuts every gate of the bay's pour and tells everybody. It releases nothing. Press it when in doubt.
stop-why = What have you seen? (may stay empty)
stop-first = STOP: first press
stop-sure = Press once more: every gate of bay { $bay } is shut then.
stop-second = STOP bay { $bay }
stop-done = STOP is pressed. Every gate of bay { $bay } is shut, and people are being told.
stop-next = Keep everybody off and from under it until the engineer has looked.
stop-no-reason = no reason given

## What goes wrong

store-down = The server cannot read its store
    .text = Nothing is shown, because what was shown could be old. Call whoever looks after the server.
refused = Not done
    .text = It was refused, and nothing was changed.
broken = Something failed
    .text = Nothing is known to have been done. It is written to the server's log; look at the board before you try again.
foreign-form = This form did not come from a page of this server
    .text = Nothing was done. Open the page here and send it again.
old-form = This form is too old
    .text = Nothing was done. Open the page again.
not-allowed = This takes another role
    .text = Needed: { $roles }. Who has it: { $people }.
not-found = There is no such page
    .text = The board has every bay.
link-used = This link does not work
    .text = It was used, has run out, or was replaced. Ask the admin for another.
demo-elsewhere = The demo is read at its own machine only
    .text = It has no passwords, so nobody else is let in.
to-the-board = To the board

# The calendar feed
calendar-name = Hours of { $site }: EXPECTED, NOT RELEASED
calendar-expected = EXPECTED, NOT RELEASED: { $operation } { $bay }
calendar-signed = { $operation } { $bay }: release signed at this hour; look at the board whether it still stands
calendar-ask = As of { $hour }. A calendar may be hours old: only the board and the messages say what is released.
## Messages

nav-messages = Messages
messages-title = Messages
messages-how = What was said, by its own subject, newest first; each with whom it was sent to and what became of it.
messages-waiting = Wait for a person
messages-newest = All, newest first
messages-none = No message yet.
messages-all = Of all bays
older = Older
told-nobody = Sent to nobody yet.
check-code = check code { $code }
attempts = { $count ->
    [one] 1 attempt
   *[other] { $count } attempts
    }
accepted-at = accepted { $hour }
delivery-queued = queued
delivery-calling = being sent
delivery-accepted = accepted by the channel
delivery-waiting = not accepted yet, tried again
delivery-unsure = may have arrived, nobody knows
delivery-superseded = not sent: no longer true
delivery-refused = refused by the channel
delivery-escalated = given up: the next in line is told
delivery-confirmed = confirmed by a person
message-title = Message no. { $no }
no-message = There is no such message
    .text = The list has every message.
said-then = These are the words of that hour. What stands now is on the board.
standing-stands = This stands as of this page. The board has what came since.
standing-keep-off = Keep off now: forms are being stripped at, below or beside this bay.
standing-expired = Void: its hour is past and nobody began. Go by the board.
standing-doubted = In doubt: take it as not released, and ask the engineer.
standing-fallen = THIS DOES NOT STAND ANY MORE. Go by the board.
standing-shut = This stands: what it shut is shut.
standing-over = This is over, and that releases nothing. What stands now is on the board.
confirm-title = Answer: the area is clear
confirm-how = Until somebody answers, this message is repeated and others are told.
confirm-clear = Nobody is on or under what this message shut, and nobody goes there.
confirm = Confirm
confirm-tick = Tick the sentence first: it is what you confirm.
confirm-not-yours = This message did not reach you, or you have answered it. Whoever got it answers; the engineer may say who was told by phone.
confirm-other = Only a withdrawal or a keep-off is answered here.
confirm-phone-title = People were told by phone
confirm-phone = Who was told, by whom, when
confirm-phone-button = They were told
confirm-told-wrong = Only the engineer says that others were told by phone, in 1 to { $longest } characters: whom, when.
message-reached = To whom, and what became of it
message-words = Exact words
message-words-how = In each language of those who get it. A repeat says "repeat of" before its number; several bays may share one message.
message-short = Short text
message-subject = Subject
language-en = English
language-fr = French
language-es = Spanish

## Records

nav-records = Records
records-title = Records
records-how = The printed evidence of each release, hold and withdrawal, with its readings inside. The same record is the same file, byte by byte.
records-none = No record yet: one is made of each release, hold and withdrawal.
record-title = Record { $no }
record-released = released
record-requirement-met-not-signed = met, not signed
record-withdrawal = withdrawn
record-hold = on hold
record-freeze-suspected = on hold, freeze suspected
record-freeze-locked = on hold, frozen
record-pdf = The record (PDF)
record-of = Bay { $bay }, { $what }
record-compare = Compare number, bay and check code with the sheet in your hand.
record-stranger = Sign in for the evidence. STOP is for everybody.
no-record = There is no such record
    .text = Releases, holds and withdrawals have records; the list has them all.
