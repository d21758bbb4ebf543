# The words of slabhour's messages, in Project Fluent's syntax (projectfluent.org).
# A site replaces single messages: a file of the same name in a folder `words` beside its site file.
# Value first, then `.shorter` and `.shortest`: a short text takes the longest wording that fits.
# The value of a kind of message is its verdict: at most 12 characters, the first of every text.

## Hours, numbers, names

days = Mon Tue Wed Thu Fri Sat Sun
months = Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec
long-hour = { $day } { $date } { $month } { $year } { $time } UTC{ $offset }
short-hour = { $date } { $month } { $time } UTC{ $offset }
not-known = not known
none = none
number = no. { $no }
    .shorter = no. { $no }
repeat = repeat of no. { $no }
    .shorter = repeat { $no }
numbers = no. { $numbers }
    .shorter = no. { $first } and { $more } more
    .shortest = no. { $first }+{ $more }
repeats = repeat of no. { $numbers }
    .shorter = repeat of no. { $first } and { $more } more
    .shortest = repeat { $first }+{ $more }
with-code = { $no } { $code }
code = code { $code }
bay = bay
bays = bays { $bays }
    .shorter = { $count } bays, see the board
    .shortest = { $count } bays
site = site
pour = pour
floor = floor
at-most = at most { $load }
percent = { $percent } %
item = { $what }: { $value }

operation-strip = strip
operation-walk = walk
operation-load = load
operation-full-load = full load
operation-uncover = uncover
operation-whole = whole pour

## Lines of every body

row-message = Message
row-code = Check code
row-site = Site
row-floor = Floor
row-bay = Bay
row-pour = Pour
row-hour = Hour
same-code = { $code }, the same on the board
demo = Played by the demo, not by a person.
not-released = Not released: { $others }
still-shut = Still shut: { $others }
replaces = No. { $no } replaces every lower number about this pour and { $what }.
findings = Findings for { $what }:
excluded = Excluded, this does not hold there: { $where }
excluded-none = Excluded: none
valid-until = Valid until { $hour }, void after it.
requirement = Requirement: { $text }
requirement-version = Requirement, version { $version }: { $text }
anchor = Log line { $seq }, hash { $hash }
cause = Cause: { $cause }
reason = Reason: { $reason }
owner = Owner: { $owner }
owner-people = Owner: { $owner } ({ $people })
how = To lift it: { $how }
helps = What to do: { $how }
to-confirm = When the area is clear: slabhour confirm { $no } --who YOU. This repeats every 5 minutes until a person does.

## What limits a permission: stands before what it permits

limit-met = , requirement met
    .shorter = , met
limit-load = , max { $load }
limit-spread = , spread load, no wheels, stacks or form bundles
    .shorter = , no wheels/stacks
limit-none = , no added load
limit-apart = {" "}(excluded: { $where })
    .shorter = {" "}(exclusions apply)
    .shortest = {" "}(exclusions)
apart = , excluded: { $where }
limit-each = , each with its own limits, see the board
together-many = { $count } permissions, see the board
    .shorter = { $count } permissions

## Endings of short texts

end-shut = . NOT released: { $others }
    .shorter = . NOT { $slashed }
    .shortest = . { $count } shut
end-still-shut = . Still shut: { $others }
end-until = . Until { $hour }
end-by = . By: { $roles }
end-owner = . Owner: { $owner }
end-reason = . { $reason }
end-confirm = . Confirm when clear
end-engineer = . For the engineer
end-expected = . Exp. { $hour }, wait for release
    .shorter = . Exp. { $hour }
end-no-hour = . No hour while it stays this cold
end-later = . Now in the shift of { $to }
end-back = . Back in the shift of { $to }
end-saves = . { $act } by { $hour } saves it
    .shorter = . { $act } saves it
end-none-has-come = . None has come
end-newest = . Newest { $hour }
end-withdrawn = . Withdrawn: { $cause }
    .shorter = . Withdrawn
end-chance = . Chance { $percent } %
end-coldest = . Coldest { $found }
end-area = . Needs { $need }, in stock { $stock }
end-to-do = . { $count } not done
end-waiting = . { $count } NOT RELEASED
end-battery = . { $loggers }

## Permissions

released = RELEASED
    .matter = : { $what }
    .signed = Signed by: { $who }
met-not-signed = NOT SIGNED
    .matter = : { $what }
    .line = Nobody has signed: by this site's policy the requirement being met is all that this message says.
sign-off-wanted = NOT RELEASED
    .matter = , sign-off wanted: { $what }
    .line = The requirement for { $what } is met. Nothing goes ahead before it is signed.
    .stripped = If the forms come off now, by the forecast: coldest point { $coldest }; { $percent } % chance of { $cold } or colder before { $strong }; load expected { $load }. A forecast releases nothing.
    .later = not within three days
    .wanted = Sign-offs wanted: { $count }, by: { $roles }
    .command = To sign: { $command }

## What shuts

withdrawal = KEEP OFF
    .strip = KEEP FORMS ON
    .done = KEEP OFF
    .deed = , no { $what }:
    .deed-strip = , do not strip
    .deed-walk = , do not walk on
    .deed-load = , do not load
    .deed-full-load = , no full load on
    .deed-uncover = , do not uncover
    .deed-whole = , nothing goes ahead:
    .act = , clear it, call the engineer:
    .act-strip = , prop, call the engineer:
    .line = Any release of { $what } is withdrawn: keep to what stands above.
keep-off = KEEP OFF
    .matter = ;
    .bays = {" "}{ $bays }
    .many = {" "}{ $count } bays, see the board
    .cause = : { $cause }
    .list = Keep off: { $bays }
    .line = While this stands no release to walk on these bays or to load them holds.
released-early = TOO EARLY
    .matter = {" "}by { $early }: { $what }
    .line = By today's evidence the release of { $what } came { $early } before its requirement was met.
in-doubt = IN DOUBT
    .matter = , rely on no release, ask the engineer:
    .line = What was released before is neither confirmed nor withdrawn by this: ask the engineer before you go on.

## Cold and heat

cold-delay = COLD DELAY
    .matter = , not released: { $what }
    .wanted = Wanted: { $hour }
    .later = Moved to a later shift: from { $from } to { $to }
    .back = Moved back: from the shift of { $from } to the one of { $to }
    .plan = By the plan's clock hours: { $hour }
    .expected = Expected: { $hour }, NOT RELEASED, wait for release
    .no-hour = Expected: no hour can be named while it stays this cold
    .counted = Counted hours, at or above { $limit }: { $found }
    .clock = Hours by the clock: { $found }
    .coldest = Coldest concrete: { $found }
    .saves = What would save it: { $act } by { $hour }
saves-cover = cover
saves-heat = heat
saves-cover-and-heat = cover and heat
freeze-suspected = HOLD: FREEZE
    .matter = {" "}suspected, nothing goes ahead:
freeze-locked = LOCKED:
    .matter = {" "}freeze, nothing goes ahead, call the engineer:
freezing-ahead = FREEZE AHEAD
    .matter = {" "}from { $hour }, protect it now:
    .from = Freezing is possible from { $hour }
    .chance = Chance: { $percent } %
    .coldest = Coldest concrete expected: { $found }
too-hot = TOO HOT
    .matter = , { $found }, limit { $limit }:
    .line = { $sensor }: { $found }, limit { $limit }
too-steep = TOO STEEP
    .matter = , { $found }, limit { $limit }:
    .line = Temperature difference: { $found }, limit { $limit }
drying-risk = DRYING RISK
    .matter = , protect the surface:
cover-tonight = COVER
    .matter = {" "}by { $hour }, { $first } first:
    .list = Cover tonight:
    .bay = bay { $bay }, pour { $pour }: { $area }, expected low { $low }, { $state }
    .covered = covered
    .bare = not covered
    .first = First to freeze: bay { $bay }
    .by = Covers on by { $hour }
    .area = Needs { $need }, in stock { $stock }

## Holds, loggers, mixes

hold = HOLD:
    .matter = {" "}{ $hold }, nothing goes ahead:
logger-silent = NO READINGS:
    .matter = {" "}{ $sensor },
    .newest = Newest reading: { $hour }
    .never = Newest reading: none has come
    .required = The sensor is required: while it is silent nothing more of this pour is let go ahead.
    .other = The sensor is not required: hours and decisions go on without it.
logger-doubtful = DOUBTFUL:
    .matter = {" "}{ $sensor },
    .required = The sensor is required: while it is in doubt nothing more of this pour is let go ahead.
    .other = The sensor is not required: hours and decisions go on without it.
low-battery = LOW BATTERY
    .matter = :
    .list = Loggers:
calibration = CALIBRATION
    .matter = {" "}of { $mix }, look at it:

## About messages

delivery-failed = UNDELIVERED
    .matter = : no. { $failed } for { $recipient },
    .line = { $recipient } has not had no. { $failed }. Tell them another way.
    .kind = Its kind: { $kind }
    .why = Why: { $why }
test = TEST
    .matter = , nothing to do: this channel reaches { $recipient },
    .line = A test of one channel. It says nothing about any concrete. If you read it, the channel works.
    .channel = Channel: { $channel }

## Lists

morning-list = MORNING LIST
    .matter = , no release by itself:
handover = HANDOVER
    .matter = , no release by itself:
list-released = RELEASED, NOT DONE
list-expected = EXPECTED, NOT RELEASED
list-look-first = LOOK AT THESE FIRST
list-under-way = UNDER WAY
list-holds = HOLDS
list-deliveries = MESSAGES NOT CONFIRMED OR NOT DELIVERED
list-permit = bay { $bay }, pour { $pour }{ $limits }: { $what }, since { $hour }
list-waits = bay { $bay }, pour { $pour }, NOT RELEASED: { $what }, expected { $hour }; { $cause }
list-no-hour = hour not known

## Cautions: one a message, the last line of every body

govern = The engineer of record, the contract and local code govern.
bare-joists = slab on bare joists, spread load, no wheels, stacks or form bundles
caution-met = Caution: the requirement for { $noun } is met, nothing else.
caution-request = Caution: this is a request, not a release: nothing goes ahead before the release itself.
caution-strip = No added load; once stripped the slab carries itself on bare joists.
caution-walk = No added load, nothing stacked, not while forms are being stripped below.
caution-load = { govern } Construction load { $load }: { bare-joists }
noun-strip = stripping
noun-walk = people on foot
noun-load = the construction load
shut-strip = Caution: forms stay on and nothing is loaded until a message of its own says otherwise. { govern }
shut-walk = Caution: nobody walks on it until a message of its own says otherwise. { govern }
shut-load = Caution: nothing is loaded until a message of its own says otherwise. { govern }
shut-below = Caution: only the crew that strips is under or on these bays, nobody else. { govern }
shut-prop = Caution: nobody is on it, and under it only who props it, until the engineer has seen it. { govern }
shut-nobody = Caution: nobody is on it or under it until the engineer has seen it. { govern }
shut-all = Caution: this message lets nothing go ahead. { govern }
shut-list = Caution: this list lets nothing go ahead; every release has a message of its own. { govern }
shut-test = Caution: this is a test and nothing else.

## Chart

chart = Coldest concrete and lower bound of strength by hour
chart-hour = Hours
chart-coldest = Coldest
chart-bound = Lower bound of strength
chart-needs = needed

## Sentences of the evidence. Texts in other languages find them by these English ones.

said-not-met = { $rule }: { $found }, needs { $limit } - not met
said-met = { $rule }: { $found }, needs { $limit } - met
said-simply-not-met = { $rule }: { $found } - not met
said-simply-met = { $rule }: { $found } - met
said-not-known = not known
said-none = none
said-yes = yes
said-done = done
said-not-done = not done
said-none-on-file = none on file
said-counted = counted hours at or above { $limit }
said-counted-hours = counted hours
said-warm = coldest through the last { $hours }
said-bound = lower bound of strength
said-load = construction load
said-consent = engineer's written consent
said-strip-near = strip under way below or beside
said-alive = required sensors alive
said-silent = silent: { $sensors }
said-in-its-place = { $sensor } is silent, in its place: { $others }
said-in-its-place-cold = { $sensor }: silent, and in its place { $found }
said-stripping-below = stripping is under way below
said-stop-why = STOP pressed: { $why }
said-stop = STOP pressed
said-forms-off = forms found off without a release
said-age = age since the end of the pour
said-count = { $of } that count
said-lowest = lowest of the { $of }
said-tests-in-slab = tests in the slab
said-tests = tests
said-cylinders = cylinders
said-no-specified = no specified strength on file
said-surface-apart = surface apart from the air
said-drop = drop within { $hours } at most
said-second-check = second-person check
said-elapsed = checked elapsed time
said-room = room on the service's disk
said-end-of = the end of { $pours }, placed against it
said-calibration-fit = a calibration of mix { $mix } that is fit for release
said-calibration-day = a calibration of mix { $mix } for pours of this day
said-calibration-of = the calibration of { $mix }
said-not-required = { $sensor } is not required any more
said-other-zone = { $sensor } is required in another zone than before: { $zone }
said-by-hand = by hand, hand probe, { $who }
said-gone = { $what } is written no more
said-asks-less = { $what } asks for less than before ({ $version })
said-engineer-lifts = the engineer of record lifts it: accepted in writing, or put back
said-ticket = the ticket { $ticket } says { $mix }, { $entered } was entered
said-enter-mix = enter the mix that was delivered: slabhour mix
said-ticket-dose = ticket { $ticket }: dose class { $dose }, calibrated for { $known }
said-ticket-water = ticket { $ticket }: { $added } of water added, { $withheld } held back at the plant
said-ticket-age = ticket { $ticket }: { $minutes } min from batching to placing
said-ticket-temperature = ticket { $ticket }: concrete at { $found }
said-ticket-air = ticket { $ticket }: { $air } % of air, { $wanted } % ordered
said-ticket-late = ticket { $ticket }: placed after the end of the pour that was entered
said-tickets-more = { $count } more on the tickets
said-find-delivered = find out what was delivered and test it
said-lifting-calibration = lifting it says that the calibration holds for this concrete
said-look-loggers = look at the loggers of this bay and its neighbours, mend the site file
said-lifting-lies = lifting it says that the sensor lies in this pour's concrete
said-measure-beside = measure beside the sensor
said-lifting-right = lifting it says that what it reads is right
said-stuck = { $sensor } has said one value for hours while the air moved
said-restless = { $sensor } goes up and down faster than concrete can
said-not-fresh = { $sensor } begins where no fresh concrete is ({ $range }): look at its unit
said-apart = { $sensor } is more than { $apart } warmer than { $other } of its zone
said-spike = { $sensor } jumped up for a single reading, and back
said-unit = { $sensor } jumped to the number that the other unit of temperature has: look at its unit
said-batch = { $sensor } sent readings that were held back with the hour of their arrival: none of them counts
said-clock-ahead = { $sensor } has a clock that was set ahead: the hours that it left out earn nothing
said-clock-back = { $sensor } has a clock that was set back: the hours that it told twice earn nothing
said-clock-fast = { $sensor } has a clock that runs too fast: what it told meanwhile earns nothing
said-pace = { $sensor } measures every { $found } min, not every { $set } as the site file says
said-error-value = { $sensor } said an error value declared for its type: refused, as if it had said nothing
said-unseen = { $sensor } has not been seen to lie in concrete: no step at the placing, and no lag to the air
said-as-air = { $sensor } was as warm as the air until after the pour
said-follows-air = { $sensor } follows the air as no concrete does
said-felt-nothing = { $sensor } was in something warmer or colder than the air before the pour, and did not feel the placing
said-felt-not = { $sensor } did not feel the placing, but { $other } did, which is to lie in air
said-locked-no-top = { $sensor } at { $found } before { $strength }, no top sensor
said-not-believed = not believed: { $sensors }
said-dropped = { $sensor } has dropped so much in { $hours }
said-coldest-hottest = coldest to hottest sensor of the bay
said-clock-day = the service's clock has not been synchronised for a day
said-calibration-suspended = the calibration of { $mix } is suspended: { $why }
said-suspended = suspended: { $why }
said-two-sets = two sets of cylinders on end at { $one } and { $two } % of its curve
said-less = cylinders at { $percent } of its curve: the curve counts for so much less
said-at-curve = cylinders at { $percent } of its curve
said-calibrate-anew = calibrate the mix anew
said-not-judged-more = what is not finished is not judged by this version any more
said-find-why = find out why: mix, cylinders, their temperature record
said-whether-mix = find out whether this is the mix: tickets, dose
said-drift = its cylinders drift below its curve, a little each time
said-look-mix = look at the mix before a set is low
said-valid-through = version { $version } is for pours through { $day }
said-cylinders-now = make cylinders now, and calibrate the mix anew
said-below-limit = concrete below the limit: { $hours } so far
said-cold-ahead = concrete below the limit in { $hours }, by the forecast
said-unread = without readings: { $hours }
said-locked = { $sensor } at { $found } before { $strength }
said-may-hide = { $sensor }: { $hours } without readings that may hide freezing before { $strength }
said-two-values = { $sensor } sent { $one } and { $other } for one hour
said-find-out = find out which is right
said-colder = the colder one is credited
said-measure = measure the concrete surface: above { $limit } lifts it
said-cover-before = lay covers, or heat the space below, before then
said-disposition = direct tests of the concrete and the engineer's written disposition
said-clock = the service's clock is not synchronised
said-freeze-suspected = freeze suspected
said-freeze-locked = freeze locked
said-conflict = conflicting readings
said-sensor-doubtful = sensor doubtful
said-placement = placement in doubt
said-mix = mix in doubt
said-ticket-kind = ticket in doubt
said-requirement-lowered = requirement lowered
said-strip-cold = stripping in the cold
said-strip-cold-chance = stripped now, { $percent } chance of { $limit } or colder before { $strength }, by the forecast
said-strip-cold-how = heat the space below, or strip at a warmer hour
said-strip-cold-says = lifting it says that the slab is kept warm
said-role-superintendent = superintendent
said-role-engineer = engineer
said-role-crew = crew
said-role-installer = installer
said-kind-released = released
said-kind-withdrawal = withdrawal
said-kind-keep-off = keep off
said-kind-sign-off-wanted = sign-off wanted
said-kind-met-not-signed = requirement met, not signed
said-kind-cold-delay = cold delay
said-kind-hold = hold
said-kind-silent = logger silent
said-not-judged = not judged yet
said-nobody = nobody has confirmed it
said-doubt = { $what } in doubt
said-owner = owner { $owner }
said-state-withdrawn = withdrawn
said-state-suspended = suspended
said-state-done-without-release = done without release
said-operation-strip = strip
said-operation-walk = walk
said-operation-load = load
said-plan = the engineer has not adopted the plan
said-calibration = no calibration of mix { $mix }
said-end = the end of the pour
said-required = a required sensor in the concrete
said-load-on-file = the engineer's construction load
said-order-beyond = { $what } asks for { $asked }: no order, the curve has it beyond the tested { $hours } h
said-order-no-curve = { $which }: there is no maturity to order at
said-order-suspended = its calibration is suspended, { $why }: make cylinders for a new one, slabhour calibrate
said-due-cold = no set yet of a pour below 10 °C in its first day, since it became so cold
said-due-many = { $count } pours since the last with a set
said-due-long = no set for { $days } days
said-line = bay { $bay }, pour { $pour }, { $rest }
said-pair = { $what }: { $why }
