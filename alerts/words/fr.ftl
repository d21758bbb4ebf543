# Les mots des messages de slabhour, dans la syntaxe de Project Fluent (projectfluent.org).
# Un chantier remplace des messages un par un : un fichier du même nom dans un dossier `words` à côté du fichier de chantier.
# Les opérations sont à l'infinitif : aucun mot ne peut se lire « coffrage enlevé ».
# Les textes courts perdent les accents que le SMS n'a pas (ê devient e).

## Heures, numéros, noms

days = lun mar mer jeu ven sam dim
months = janv févr mars avr mai juin juil août sept oct nov déc
long-hour = { $day } { $date } { $month } { $year } { $time } UTC{ $offset }
short-hour = { $date } { $month } { $time } UTC{ $offset }
not-known = inconnu
none = rien
number = no { $no }
    .shorter = no { $no }
repeat = répète no { $no }
    .shorter = bis { $no }
numbers = no { $numbers }
    .shorter = no { $first } et { $more } autres
    .shortest = no { $first }+{ $more }
repeats = répète no { $numbers }
    .shorter = répète no { $first } et { $more } autres
    .shortest = bis { $first }+{ $more }
with-code = { $no } { $code }
code = code { $code }
bay = travée
bays = travées { $bays }
    .shorter = { $count } travées, voir le tableau
    .shortest = { $count } travées
site = chantier
pour = coulée
floor = étage
at-most = au plus { $load }
percent = { $percent } %
item = { $what } : { $value }

operation-strip = décoffrer
operation-walk = marcher
operation-load = charger
operation-full-load = charger à plein
operation-uncover = découvrir
operation-whole = coulée entière

## Lignes de chaque message

row-message = Message
row-code = Code de contrôle
row-site = Chantier
row-floor = Étage
row-bay = Travée
row-pour = Coulée
row-hour = Heure
same-code = { $code }, le même au tableau
demo = Joué par la démonstration, par aucune personne.
not-released = Non autorisé : { $others }
still-shut = Toujours fermé : { $others }
replaces = Le no { $no } remplace tout numéro plus bas sur cette coulée pour : { $what }.
findings = Constats pour { $what } :
excluded = Exclu, ceci n'y vaut pas : { $where }
excluded-none = Exclu : rien
valid-until = Valable jusqu'à { $hour }, nul après.
requirement = Exigence : { $text }
requirement-version = Exigence, version { $version } : { $text }
anchor = Ligne { $seq } du journal, empreinte { $hash }
cause = Cause : { $cause }
reason = Motif : { $reason }
owner = Responsable : { $owner }
owner-people = Responsable : { $owner } ({ $people })
how = Pour lever : { $how }
helps = À faire : { $how }
to-confirm = Quand la zone est évacuée : slabhour confirm { $no } --who VOUS. Ce message revient toutes les 5 minutes jusque-là.

## Ce qui limite une autorisation : se lit avant ce qu'elle permet

limit-met = , exigence satisfaite
    .shorter = , atteint
limit-load = , max { $load }
limit-spread = , charge répartie, ni roues, ni piles, ni fagots de coffrage
    .shorter = , sans roue/pile
limit-none = , sans charge ajoutée
limit-apart = {" "}(exclu : { $where })
    .shorter = {" "}(avec exclusions)
    .shortest = {" "}(exclusions)
apart = , exclu : { $where }
limit-each = , chacune avec ses limites, voir le tableau
together-many = { $count } autorisations, voir le tableau
    .shorter = { $count } autorisations

## Fins des textes courts

end-shut = . NON autorisé : { $others }
    .shorter = . NON { $slashed }
    .shortest = . { $count } fermés
end-still-shut = . Toujours fermé : { $others }
end-until = . Jusqu'à { $hour }
end-by = . Par : { $roles }
end-owner = . Responsable : { $owner }
end-reason = . { $reason }
end-confirm = . Confirmer zone évacuée
end-engineer = . Pour l'ingénieur
end-expected = . Prévu { $hour }, attendre l'autorisation
    .shorter = . Prévu { $hour }
end-no-hour = . Pas d'heure par ce froid
end-later = . Maintenant à l'équipe du { $to }
end-back = . De retour à l'équipe du { $to }
end-saves = . Pour l'éviter : { $act } avant { $hour }
    .shorter = . Pour l'éviter : { $act }
end-none-has-come = . Aucun relevé
end-newest = . Dernier { $hour }
end-withdrawn = . Annulé : { $cause }
    .shorter = . Annulé
end-chance = . Risque { $percent } %
end-coldest = . Minimum { $found }
end-area = . Il faut { $need }, en stock { $stock }
end-to-do = . { $count } à faire
end-waiting = . { $count } NON AUTORISÉ
end-battery = . { $loggers }

## Autorisations

released = AUTORISÉ
    .matter = {" "}: { $what }
    .signed = Signé par : { $who }
met-not-signed = NON SIGNÉ
    .matter = {" "}: { $what }
    .line = Personne n'a signé : selon la règle de ce chantier, ce message dit seulement que l'exigence est satisfaite.
sign-off-wanted = NON AUTORISÉ
    .matter = , à signer : { $what }
    .line = L'exigence pour { $what } est satisfaite. Rien ne se fait avant la signature.
    .stripped = Si l’on décoffre maintenant, selon la prévision : point le plus froid { $coldest } ; { $percent } % de chances de { $cold } ou moins avant { $strong } ; charge attendue { $load }. Une prévision n’autorise rien.
    .later = pas d’ici trois jours
    .wanted = Signatures demandées : { $count }, par : { $roles }
    .command = Pour signer : { $command }

## Ce qui ferme

withdrawal = ANNULÉ
    .strip = ANNULÉ
    .done = INTERDIT
    .deed = {" "}: ne pas faire "{ $what }" sur
    .deed-strip = {" "}: ne pas décoffrer
    .deed-walk = {" "}: ne pas marcher sur
    .deed-load = {" "}: ne pas charger
    .deed-full-load = {" "}: ne pas charger à plein
    .deed-uncover = {" "}: ne pas découvrir
    .deed-whole = {" "}: ne rien faire sur
    .act = , évacuer, appeler l'ingénieur :
    .act-strip = , étayer, appeler l'ingénieur :
    .line = Toute autorisation ({ $what }) est annulée : s'en tenir à ce qui est dit en tête.
keep-off = INTERDIT
    .matter = {" "};
    .bays = {" "}{ $bays }
    .many = {" "}{ $count } travées, voir le tableau
    .cause = {" "}: { $cause }
    .list = N'allez pas sur : { $bays }
    .line = Tant que ceci tient, aucune autorisation d'y marcher ou de charger ces travées ne vaut.
released-early = TROP TÔT
    .matter = {" "}de { $early } : { $what }
    .line = Selon les preuves d'aujourd'hui, l'autorisation ({ $what }) est venue { $early } avant que son exigence soit satisfaite.
in-doubt = EN DOUTE
    .matter = , ne se fier à aucune autorisation, demander à l'ingénieur :
    .line = Ceci ne confirme ni n'annule ce qui a été autorisé avant : demander à l'ingénieur avant de continuer.

## Froid et chaleur

cold-delay = RETARD FROID
    .matter = , non autorisé : { $what }
    .wanted = Voulu : { $hour }
    .later = Passé à une équipe plus tardive : de { $from } à { $to }
    .back = De retour : de l'équipe du { $from } à celle du { $to }
    .plan = Selon les heures du plan : { $hour }
    .expected = Prévu : { $hour }, NON AUTORISÉ, attendre l'autorisation
    .no-hour = Prévu : aucune heure tant qu'il fait ce froid
    .counted = Heures comptées, à { $limit } ou plus : { $found }
    .clock = Heures d'horloge : { $found }
    .coldest = Béton le plus froid : { $found }
    .saves = Ce qui l'éviterait : { $act } avant { $hour }
saves-cover = couvrir
saves-heat = chauffer
saves-cover-and-heat = couvrir et chauffer
freeze-suspected = BLOQUÉ : GEL
    .matter = {" "}possible, rien ne se fait :
freeze-locked = VERROUILLÉ :
    .matter = {" "}gel, rien ne se fait, appeler l'ingénieur :
freezing-ahead = GEL PRÉVU
    .matter = {" "}dès { $hour }, protéger maintenant :
    .from = Gel possible à partir de { $hour }
    .chance = Risque : { $percent } %
    .coldest = Béton le plus froid attendu : { $found }
too-hot = TROP CHAUD
    .matter = , { $found }, limite { $limit } :
    .line = { $sensor } : { $found }, limite { $limit }
too-steep = ÉCART FORT
    .matter = , { $found }, limite { $limit } :
    .line = Écart de température : { $found }, limite { $limit }
drying-risk = DESSICCATION
    .matter = {" "}possible, protéger la surface :
cover-tonight = COUVRIR
    .matter = {" "}avant { $hour }, { $first } d'abord :
    .list = À couvrir ce soir :
    .bay = travée { $bay }, coulée { $pour } : { $area }, minimum attendu { $low }, { $state }
    .covered = couverte
    .bare = non couverte
    .first = Gèle la première : travée { $bay }
    .by = Bâches posées avant { $hour }
    .area = Il faut { $need }, en stock { $stock }

## Blocages, enregistreurs, formules de béton

hold = BLOQUÉ :
    .matter = {" "}{ $hold }, rien ne se fait :
logger-silent = SANS MESURE
    .matter = {" "}: { $sensor },
    .newest = Dernier relevé : { $hour }
    .never = Dernier relevé : aucun n'est venu
    .required = Ce capteur est exigé : tant qu'il se tait, rien de plus n'est permis sur cette coulée.
    .other = Ce capteur n'est pas exigé : les heures et les décisions continuent sans lui.
logger-doubtful = DOUTEUX :
    .matter = {" "}{ $sensor },
    .required = Ce capteur est exigé : tant qu'il est douteux, rien de plus n'est permis sur cette coulée.
    .other = Ce capteur n'est pas exigé : les heures et les décisions continuent sans lui.
low-battery = PILE FAIBLE
    .matter = {" "}:
    .list = Enregistreurs :
calibration = ÉTALONNAGE
    .matter = {" "}de { $mix }, à revoir :

## Sur les messages

delivery-failed = NON REMIS
    .matter = {" "}: no { $failed } pour { $recipient },
    .line = { $recipient } n'a pas reçu le no { $failed }. Le lui dire autrement.
    .kind = Sorte : { $kind }
    .why = Motif : { $why }
test = TEST
    .matter = , rien à faire : cette voie atteint { $recipient },
    .line = Essai d'une voie. Il ne dit rien d'aucun béton. Si vous le lisez, la voie marche.
    .channel = Voie : { $channel }

## Listes

morning-list = LISTE MATIN
    .matter = , ne permet rien :
handover = RELÈVE
    .matter = , ne permet rien :
list-released = AUTORISÉ, PAS ENCORE FAIT
list-expected = ATTENDU, NON AUTORISÉ
list-look-first = À VOIR D'ABORD
list-under-way = EN COURS
list-holds = BLOCAGES
list-deliveries = MESSAGES NON CONFIRMÉS OU NON REMIS
list-permit = travée { $bay }, coulée { $pour }{ $limits } : { $what }, depuis { $hour }
list-waits = travée { $bay }, coulée { $pour }, NON AUTORISÉ : { $what }, attendu { $hour } ; { $cause }
list-no-hour = heure inconnue

## Mises en garde : une par message, la dernière ligne

govern = L'ingénieur responsable, le contrat et les règles locales l'emportent.
bare-joists = dalle sur solives nues, charge répartie, ni roues, ni piles, ni fagots de coffrage
caution-met = Attention : l'exigence pour { $noun } est satisfaite, rien d'autre.
caution-request = Attention : ceci est une demande, pas une autorisation : rien ne se fait avant l'autorisation elle-même.
caution-strip = Sans charge ajoutée ; après le décoffrage la dalle se porte seule sur ses solives.
caution-walk = Sans charge ajoutée, rien d'empilé, jamais pendant qu'on décoffre dessous.
caution-load = { govern } Charge de chantier { $load } : { bare-joists }
noun-strip = le décoffrage
noun-walk = le passage à pied
noun-load = la charge de chantier
shut-strip = Attention : le coffrage reste en place et rien n'est chargé jusqu'à un message qui le dise. { govern }
shut-walk = Attention : personne n'y marche jusqu'à un message qui le dise. { govern }
shut-load = Attention : rien n'est chargé jusqu'à un message qui le dise. { govern }
shut-below = Attention : seule l'équipe qui décoffre est sous ces travées ou dessus, personne d'autre. { govern }
shut-prop = Attention : personne dessus, et dessous seulement qui étaye, avant que l'ingénieur l'ait vue. { govern }
shut-nobody = Attention : personne dessus ni dessous avant que l'ingénieur l'ait vue. { govern }
shut-all = Attention : ce message ne permet rien. { govern }
shut-list = Attention : cette liste ne permet rien ; chaque autorisation a son propre message. { govern }
shut-test = Attention : ceci est un essai et rien d'autre.

## Graphique

chart = Béton le plus froid et borne basse de la résistance, par heure
chart-hour = Heures
chart-coldest = Plus froid
chart-bound = Borne basse de la résistance
chart-needs = exigé

## Phrases des preuves

said-not-met = { $rule } : { $found }, exigé { $limit } - non satisfait
said-met = { $rule } : { $found }, exigé { $limit } - satisfait
said-simply-not-met = { $rule } : { $found } - non satisfait
said-simply-met = { $rule } : { $found } - satisfait
said-not-known = inconnu
said-none = aucun
said-yes = oui
said-done = fait
said-not-done = pas fait
said-none-on-file = aucun au dossier
said-counted = heures comptées à { $limit } ou plus
said-counted-hours = heures comptées
said-warm = minimum des dernières { $hours }
said-bound = borne basse de la résistance
said-load = charge de chantier
said-consent = accord écrit de l'ingénieur
said-strip-near = décoffrage en cours dessous ou à côté
said-alive = capteurs exigés présents
said-silent = muets : { $sensors }
said-in-its-place = { $sensor } se tait, à sa place : { $others }
said-in-its-place-cold = { $sensor } : se tait, et à sa place { $found }
said-stripping-below = on décoffre dessous
said-stop-why = STOP pressé : { $why }
said-stop = STOP pressé
said-forms-off = coffrage absent, sans autorisation
said-age = âge depuis la fin de la coulée
said-count = { $of } qui comptent
said-lowest = minimum des { $of }
said-tests-in-slab = essais dans la dalle
said-tests = essais
said-cylinders = cylindres
said-no-specified = aucune résistance spécifiée au dossier
said-surface-apart = écart de la surface à l'air
said-drop = baisse en { $hours } au plus
said-second-check = contrôle par une deuxième personne
said-elapsed = temps écoulé contrôlé
said-room = place sur le disque du service
said-end-of = la fin de { $pours }, coulée contre elle
said-calibration-fit = un étalonnage de la formule { $mix } valable pour autoriser
said-calibration-day = un étalonnage de la formule { $mix } pour les coulées de ce jour
said-calibration-of = l'étalonnage de { $mix }
said-not-required = { $sensor } n'est plus exigé
said-other-zone = { $sensor } est exigé dans une autre zone qu'avant : { $zone }
said-by-hand = à la main, sonde manuelle, { $who }
said-gone = { $what } n'est plus écrit
said-asks-less = { $what } exige moins qu'avant ({ $version })
said-engineer-lifts = l'ingénieur le lève : accepté par écrit, ou remis comme avant
said-ticket = le bon { $ticket } dit { $mix }, { $entered } a été saisi
said-enter-mix = saisir la formule livrée : slabhour mix
said-ticket-dose = bon { $ticket } : classe de dosage { $dose }, étalonné pour { $known }
said-ticket-water = bon { $ticket } : { $added } d'eau ajoutés, { $withheld } retenus à la centrale
said-ticket-age = bon { $ticket } : { $minutes } min entre le gâchage et la mise en place
said-ticket-temperature = bon { $ticket } : béton à { $found }
said-ticket-air = bon { $ticket } : { $air } % d'air, { $wanted } % commandés
said-ticket-late = bon { $ticket } : mis en place après la fin de coulée saisie
said-tickets-more = { $count } de plus sur les bons
said-find-delivered = trouver ce qui a été livré et l'essayer
said-lifting-calibration = le lever dit que l'étalonnage vaut pour ce béton
said-look-loggers = voir les enregistreurs de cette travée et des voisines, corriger le fichier du chantier
said-lifting-lies = lever dit que le capteur est dans le béton de cette coulée
said-measure-beside = mesurer à côté du capteur
said-lifting-right = lever dit que sa mesure est juste
said-stuck = { $sensor } donne une seule valeur depuis des heures, l'air a changé
said-restless = { $sensor } monte et descend plus vite qu'un béton
said-not-fresh = { $sensor } commence hors du béton frais ({ $range }) : voir son unité
said-apart = { $sensor } a plus de { $apart } de plus que { $other } de sa zone
said-spike = { $sensor } a bondi pour un seul relevé, puis est revenu
said-unit = { $sensor } a sauté au nombre de l'autre unité de température : voir son unité
said-batch = { $sensor } a envoyé des relevés retenus avec l'heure de leur arrivée : aucun ne compte
said-clock-ahead = l'horloge de { $sensor } a été avancée : les heures sautées ne comptent pas
said-clock-back = l'horloge de { $sensor } a été reculée : les heures dites deux fois ne comptent pas
said-clock-fast = l'horloge de { $sensor } avance trop vite : ce qui a été dit pendant ce temps ne compte pas
said-pace = { $sensor } mesure toutes les { $found } min et non toutes les { $set } comme dit le fichier du chantier
said-error-value = { $sensor } a dit une valeur d'erreur déclarée pour son type : refusée, comme s'il s'était tu
said-unseen = { $sensor } n'a pas été vu dans le béton : aucun saut à la mise en place, aucun retard sur l'air
said-as-air = { $sensor } suivait l'air jusqu'après la coulée
said-follows-air = { $sensor } suit l'air comme aucun béton
said-felt-nothing = { $sensor } était dans plus chaud ou plus froid que l'air avant la coulée, et n'a pas senti la mise en place
said-felt-not = { $sensor } n'a pas senti la mise en place, mais { $other }, censé être à l'air, oui
said-locked-no-top = { $sensor } à { $found } avant { $strength }, aucun capteur en surface
said-not-believed = pas crus : { $sensors }
said-dropped = { $sensor } a tant baissé en { $hours }
said-coldest-hottest = du capteur le plus froid au plus chaud de la travée
said-clock-day = l'horloge du service n'est pas synchronisée depuis un jour
said-calibration-suspended = l'étalonnage de { $mix } est suspendu : { $why }
said-suspended = suspendu : { $why }
said-two-sets = deux séries de cylindres de suite à { $one } et { $two } % de sa courbe
said-less = cylindres à { $percent } de sa courbe : la courbe compte d'autant moins
said-at-curve = cylindres à { $percent } de sa courbe
said-calibrate-anew = étalonner la formule à nouveau
said-not-judged-more = ce qui n'est pas fini n'est plus jugé par cette version
said-find-why = trouver pourquoi : formule, cylindres, leur relevé de température
said-whether-mix = vérifier si c'est la formule : bons, dosage
said-drift = ses cylindres glissent sous sa courbe, un peu chaque fois
said-look-mix = voir la formule avant qu'une série soit basse
said-valid-through = la version { $version } vaut pour les coulées jusqu'au { $day }
said-cylinders-now = faire des cylindres maintenant et étalonner la formule à nouveau
said-below-limit = béton sous la limite : { $hours } à présent
said-cold-ahead = béton sous la limite dans { $hours }, selon la prévision
said-unread = sans relevés : { $hours }
said-locked = { $sensor } à { $found } avant { $strength }
said-may-hide = { $sensor } : { $hours } sans relevés, gel possible avant { $strength }
said-two-values = { $sensor } a envoyé { $one } et { $other } pour la même heure
said-find-out = trouver laquelle est juste
said-colder = la plus froide compte
said-measure = mesurer la surface du béton : plus de { $limit } lève le blocage
said-cover-before = poser des bâches isolantes, ou chauffer l'espace en dessous, avant cette heure
said-disposition = essais directs du béton et décision écrite de l'ingénieur
said-clock = l'horloge du service n'est pas synchronisée
said-freeze-suspected = gel possible
said-freeze-locked = gel, verrouillé
said-conflict = relevés contradictoires
said-sensor-doubtful = capteur douteux
said-placement = emplacement douteux
said-mix = formule douteuse
said-ticket-kind = bon de livraison en doute
said-requirement-lowered = exigence abaissée
said-strip-cold = décoffrage par temps froid
said-strip-cold-chance = décoffré maintenant, { $percent } de chances de { $limit } ou moins avant { $strength }, selon la prévision
said-strip-cold-how = chauffer l’espace en dessous, ou décoffrer à une heure moins froide
said-strip-cold-says = la lever dit que la dalle est gardée au chaud
said-role-superintendent = chef de chantier
said-role-engineer = ingénieur
said-role-crew = équipe
said-role-installer = installateur
said-kind-released = autorisation
said-kind-withdrawal = annulation
said-kind-keep-off = interdiction
said-kind-sign-off-wanted = signature demandée
said-kind-met-not-signed = exigence satisfaite, non signée
said-kind-cold-delay = retard par le froid
said-kind-hold = blocage
said-kind-silent = enregistreur muet
said-not-judged = pas encore jugé
said-nobody = personne ne l'a confirmé
said-doubt = { $what } en doute
said-owner = responsable { $owner }
said-state-withdrawn = annulé
said-state-suspended = suspendu
said-state-done-without-release = fait sans autorisation
said-operation-strip = décoffrer
said-operation-walk = marcher
said-operation-load = charger
said-plan = l'ingénieur n'a pas adopté le plan
said-calibration = aucun étalonnage de la formule { $mix }
said-end = la fin de la coulée
said-required = un capteur exigé dans le béton
said-load-on-file = la charge de chantier de l'ingénieur
said-order-beyond = { $what } demande { $asked } : pas de commande, la courbe l'a au-delà des { $hours } h essayées
said-order-no-curve = { $which } : il n'y a pas de maturité à commander
said-order-suspended = son étalonnage est suspendu, { $why } : faites des cylindres pour un nouveau, slabhour calibrate
said-due-cold = encore aucun jeu d'une coulée sous 10 °C le premier jour, depuis qu'il fait si froid
said-due-many = { $count } coulées depuis la dernière avec un jeu
said-due-long = aucun jeu depuis { $days } jours
said-line = travée { $bay }, coulée { $pour }, { $rest }
said-pair = { $what } : { $why }
