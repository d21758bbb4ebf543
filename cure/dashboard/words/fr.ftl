# Les mots des pages, en syntaxe Project Fluent (projectfluent.org). À relire par une personne de langue maternelle.

## Heures

days = lun mar mer jeu ven sam dim
months = janv févr mars avr mai juin juil août sept oct nov déc
hour-of-day = { $day } { $time }
hour-of-date = { $date } { $month } { $time }
hour-whole = { $day } { $date } { $month } { $year } { $time } UTC{ $offset }

## Le cadre de chaque page

language-name = Français
skip = Aller au contenu
nav-board = Tableau
nav-people = Personnes
nav-devices = Écrans
nav-settings = Réglages
nav-label = Pages
served = Page de { $hour }
heard = Serveur entendu
no-contact = Pas de contact avec le serveur du chantier. Cette page montre { $hour }. Ne pas agir d'après elle avant le retour du contact.
signed-in = Session : { $person }, { $role }
device-reads = Écran « { $device } », lecture seule
not-signed-in = Sans session
sign-out = Fermer la session
sign-in = Ouvrir une session
demo = Démonstration : un chantier inventé. Qui est à cette machine agit pour { $person } sans mot de passe ; un vrai chantier en demande un.
caution = « Autorisé » dit que l'exigence est satisfaite et signée, et rien d'autre. Cette page rapporte des preuves, elle ne permet rien : l'ingénieur responsable, le contrat et les règles locales l'emportent. Pas de message = pas d'autorisation.
role-viewer = lecture
role-crew = équipe
role-superintendent = surintendant
role-qc = contrôle qualité
role-engineer = ingénieur
role-installer = installateur
role-admin = administration
nobody-has-it = personne encore

## Opérations et signes

operation-strip = Décof{"\u00AD"}frer
operation-walk = Marcher
operation-load = Charger
operation-full-load = Charger à plein
operation-uncover = Décou{"\u00AD"}vrir
sign-not-set-up = Non réglé
sign-curing = En cure
sign-hold = Bloqué
sign-met = À signer
    .unsigned = Satis{"\u00AD"}fait, non signé
sign-released = Autorisé
sign-under-way = En cours
sign-done = Fait
sign-withdrawn = Annulé : ne rien faire
    .strip = Annulé : ne pas décof{"\u00AD"}frer
    .walk = Annulé : ne pas marcher
    .load = Annulé : ne pas charger
sign-done-without = Fait sans autori{"\u00AD"}sation
    .strip = Décof{"\u00AD"}fré sans autori{"\u00AD"}sation
sign-suspended = En doute
sign-keep-off = Interdit
sign-stopped = En doute
stripping-near = on décoffre dessous ou à côté
stopped-reason = personne ne juge
signed-so-far = signatures : { $count }
not-looked-at = pas encore examiné
being-confirmed = satisfait, à confirmer
key-not-set-up = il manque ce qu'une personne doit fournir
key-curing = l'exigence n'est pas satisfaite ; aucune heure n'est donnée
key-hold = un doute qu'une personne doit lever
key-met = l'exigence est satisfaite et il manque une signature
key-released = l'exigence est satisfaite et signée ; rien d'autre n'est dit
key-under-way = l'équipe a commencé
key-done = noté comme fait
key-withdrawn = une autorisation a été contredite, ou STOP a été pressé
key-done-without-release = trouvé fait sans autorisation
key-suspended = horloge, données ou journal du service en doute, ou personne ne juge : demander à l'ingénieur

## Tableau

board-title = Où en est chaque travée
bay = Travée
floor = Étage { $floor }
floors-label = Étages
all-floors = Tous
evidence = Preuves
to = jusqu'à { $hour }
evidence-old = jusqu'à { $hour }, ancien
no-reading = aucune mesure
others = Autres
group-look-first = À voir d'abord
    .hint = quelque chose ne va pas
group-released = Autorisé, pas encore fait
    .hint = l'équipe peut agir, ou agit
group-sign-off = À signer
    .hint = exigence satisfaite
group-curing = En cure
    .hint = exigence non satisfaite
group-done = Fait
    .hint = noté
no-pours = Pas encore de coulée.
no-pours-how = Pour en commencer une : slabhour pour start BAY POUR
what-signs-mean = Ce que disent les formes
doubt = Tout est suspendu, { $what } en doute : { $reason }
doubt-clock = l'horloge du service est
doubt-store = un stockage est
doubt-log = le journal est
estimates-stopped = Les estimations se sont arrêtées à { $hour } : les signes ci-dessous ne sont pas d'aujourd'hui. Appeler qui s'occupe du serveur.
no-forecast = Aucune heure n'est encore prévue : « En cure » est sans heure.
clock-not-checked = Ce chantier ne demande pas si l'horloge du serveur est juste.
silence-not-watched = Personne au-dehors n'est averti quand ce serveur se tait.

## Session, réglages

sign-in-title = Ouvrir une session
name = Nom
password = Mot de passe
code = Code de votre application
sign-in-how = Noms et liens viennent de l'administration du chantier.
sign-in-wrong = Ce nom et ce mot de passe ne vont pas ensemble.
sign-in-wait = Trop d'essais. Réessayer dans { $minutes } min.
open-text = Cette liaison n'est pas chiffrée : ce que vous tapez peut être lu en chemin.
settings-title = Réglages
language = Langue
units = Unités
units-SI = °C, MPa, mm
units-US = °F, psi, in
acting = Agir pour (démonstration)
keep = Garder
for-this-browser = Pour ce navigateur.

## Un lien à usage unique, personnes, écrans

welcome-title = Créer votre compte
welcome-how = Ce lien sert une fois, jusqu'à { $hour }.
password-new = Mot de passe, au moins { $shortest } caractères
password-again = Mot de passe encore une fois
second-factor = Second facteur
second-factor-how = Lisez ceci avec une application d'authentification, ou tapez la clé, puis donnez le code affiché. Chaque signature demande un nouveau code.
key = Clé
make-account = Créer le compte
wrong-title = Pas encore fait :
wrong-name = Ce nom ne peut pas servir ici. Minuscules, chiffres et « - » ; les personnes du fichier de chantier ont leurs propres liens.
wrong-short = Le mot de passe demande au moins { $shortest } caractères.
wrong-again = Les deux mots de passe diffèrent.
wrong-code = Le code n'est pas juste, ou a déjà servi. Attendez le suivant.
wrong-taken = Il y a déjà un compte de ce nom.
wrong-person = Choisir une personne du fichier de chantier, ou un nom nouveau avec le rôle lecture ou administration.
wrong-self = On ne ferme pas son propre compte.
wrong-device = Donner à l'écran un nom d'au plus { $longest } caractères.
people-title = Personnes
people-how = Ce que peuvent les personnes du fichier de chantier y est dit. L'administration fait entrer et ne signe pas.
role = Rôle
account-since = compte depuis { $hour }
account-none = pas encore de compte
account-ended = compte fermé
has-second-factor = second facteur
invite-title = Faire entrer quelqu'un
invite = Créer un lien à usage unique
invite-how = Le lien crée le compte, ou le refait : ancien mot de passe et ancien second facteur finissent alors.
of-site-file = selon le fichier de chantier
one-time-link = Lien à usage unique pour { $person }. À remettre maintenant : il n'est montré qu'une fois.
end = Fermer le compte
end-of = Fermer le compte de { $person }
devices-title = Écrans
devices-how = Un écran avec une clé lit chaque page et ne fait rien. Qui a le code a les yeux de l'écran.
add-device = Ajouter un écran
device-name = Nom, par exemple « baraque »
device-link = À lire avec « { $name } ». Montré une seule fois.
end-device = Retirer
end-device-of = Retirer « { $name } »
no-devices = Aucun écran.
device-title = Lire avec cet écran
device-how = « { $name } » lira les pages de { $site } sans personne, jusqu'au retrait de sa clé.
device-take = Lire ici

## Travée, coulée, signature, STOP

nav-sign = Signer
none = aucun
mix = béton { $mix }
pour-named = coulée { $pour }
no-bay = Cette travée n'existe pas
    .text = Le tableau a chaque travée.
no-pour-here = Aucune coulée n'est ouverte dans cette travée.
placed = Coulée de { $start } à { $end }
placed-since = On coule depuis { $start } ; la fin n'est pas entrée
stopped-here = Personne ne juge plus cette coulée : ce qui est écrit ici n'est pas d'aujourd'hui.
signed-by = Signé par { $who }
not-released = Non autorisé : { $what }.
not-by-this = Non autorisé par ceci : { $what }.
excluded = Exclu : { $where }.
limit = L'exigence est satisfaite, rien d'autre.
    .strip = Sans charge ajoutée ; après le décoffrage la dalle se porte seule sur ses solives.
    .walk = Sans charge ajoutée, rien d'empilé, jamais pendant qu'on décoffre dessous.
limit-load = Au plus { $load } : dalle sur solives nues, charge répartie, ni roues, ni piles, ni paquets de coffrage.
tap-under-way = En cours : { $what }
tap-done = Fait : { $what }
hold-line = Bloqué : { $reason } (depuis { $since }, responsable : { $owner })
hold-how = Pour le lever : { $how }
why = Pourquoi : { $what }
missing = Il manque : { $what }
end-not-entered = fin de coulée non entrée
counted-at = { $hours } à { $limit } ou plus
evidence-to = Preuves jusqu'à
fact-age = Âge
fact-bound = Borne basse de la résistance
fact-estimate = Résistance, estimation
fact-coldest = Le plus froid
fact-counted = Heures comptées
fact-governing = Capteur déterminant
curves = Courbes de cure
curves-shown = Partie affichée
curves-last = { $hours } dernières h
curves-all = depuis le premier béton
curves-as-of = Lues à { $hour } ; recharger la page pour voir la suite.
sensors = Capteurs
stranger = Ouvrir une session pour lire cette travée. STOP est pour tous.
pour-page = Début ou fin de coulée
stop-page = STOP
pour-title = Coulée dans la travée { $bay }
pour-start-title = Le premier béton est en place
pour-start = Début de coulée
pour-end-title = Le dernier béton est en place
pour-end-later = Du béton est venu plus tard : la fin est plus tard
pour-end = Fin de coulée
pour-name = Nom de la coulée
pour-closes = La coulée { $pour } finit ici pour de bon : les mesures de cette travée sont à la suivante.
earlier = C'était plus tôt : heure du jour (laisser vide pour maintenant)
sign-none = Rien n'attend votre signature.
sign-button = Signer ce qui est coché
sign-nothing = Cochez ce que vous signez.
sign-tick = Cochez les deux phrases.
sign-moved = Les preuves de { $what } ont changé depuis, et rien n'est signé. Regardez de nouveau.
sign-not-you = Mot de passe ou code faux, ou code déjà servi. Rien n'est signé.
sign-refused = { $what } n'est pas signé : { $why }
signed-now = Signé : { $what }. L'équipe est avertie.
box-read = J'ai lu les constats ci-dessus ; l'exigence est satisfaite.
box-nothing-else = Ce qui est coché se fait par cette signature, et rien d'autre.
stop-title = STOP, travée { $bay }
stop-how = Ceci ferme tout pour la coulée de la travée et avertit tout le monde. Cela n'autorise rien. À presser dans le doute.
stop-why = Qu'avez-vous vu ? (peut rester vide)
stop-first = STOP : première pression
stop-sure = Pressez encore une fois : alors tout est fermé pour la travée { $bay }.
stop-second = STOP travée { $bay }
stop-done = STOP est pressé. Tout est fermé pour la travée { $bay }, et on avertit les gens.
stop-next = Personne dessus ni dessous avant que l'ingénieur ait vu.
stop-no-reason = sans raison donnée

## Ce qui ne va pas

store-down = Le serveur ne peut pas lire ses données
    .text = Rien n'est montré, car ce serait peut-être ancien. Appeler qui s'occupe du serveur.
refused = Pas fait
    .text = C'est refusé, et rien n'a changé.
broken = Quelque chose a échoué
    .text = Rien n'est connu comme fait. C'est noté dans le journal du serveur ; voir le tableau avant de réessayer.
foreign-form = Ce formulaire ne vient pas d'une page de ce serveur
    .text = Rien n'a été fait. Ouvrir la page ici et l'envoyer de nouveau.
old-form = Ce formulaire est trop ancien
    .text = Rien n'a été fait. Rouvrir la page.
not-allowed = Il faut un autre rôle
    .text = Nécessaire : { $roles }. Qui l'a : { $people }.
not-found = Cette page n'existe pas
    .text = Le tableau a chaque travée.
link-used = Ce lien ne sert pas
    .text = Il a servi, a expiré ou a été remplacé. En demander un autre à l'administration.
demo-elsewhere = La démonstration se lit à sa propre machine seulement
    .text = Elle n'a pas de mots de passe, donc personne d'autre n'entre.
to-the-board = Au tableau

# The calendar feed
calendar-name = Heures de { $site } : ATTENDU, PAS LIBÉRÉ
calendar-expected = ATTENDU, PAS LIBÉRÉ : { $operation } { $bay }
calendar-signed = { $operation } { $bay } : libération signée à cette heure ; voir sur le tableau si elle tient toujours
calendar-ask = État : { $hour }. Un calendrier peut dater de plusieurs heures : seuls le tableau et les messages disent ce qui est libéré.
## Messages

nav-messages = Messages
messages-title = Messages
messages-how = Ce qui a été dit, par son propre objet, le plus récent d'abord ; à qui, et ce que c'est devenu.
messages-waiting = Attendent quelqu'un
messages-newest = Tous, le plus récent d'abord
messages-none = Aucun message encore.
messages-all = De toutes les travées
older = Plus anciens
told-nobody = Envoyé à personne encore.
check-code = code de contrôle { $code }
attempts = { $count ->
    [one] 1 essai
   *[other] { $count } essais
    }
accepted-at = accepté { $hour }
delivery-queued = en attente d'envoi
delivery-calling = envoi en cours
delivery-accepted = accepté par le canal
delivery-waiting = pas encore accepté, nouvel essai
delivery-unsure = peut-être arrivé, nul ne le sait
delivery-superseded = non envoyé : ce n'est plus vrai
delivery-refused = refusé par le canal
delivery-escalated = abandonné : le suivant est averti
delivery-confirmed = confirmé par une personne
message-title = Message no { $no }
no-message = Ce message n'existe pas
    .text = La liste a tous les messages.
said-then = Ce sont les mots de cette heure-là. Ce qui vaut maintenant est au tableau.
standing-stands = Ceci vaut à l'heure de cette page. Le tableau a ce qui est venu depuis.
standing-keep-off = Interdit maintenant : on décoffre ici, dessous ou à côté.
standing-expired = Nul : son heure est passée et personne n'a commencé. Suivre le tableau.
standing-doubted = En doute : tenir pour non autorisé, et demander à l'ingénieur.
standing-fallen = CECI NE VAUT PLUS. Suivre le tableau.
standing-shut = Ceci vaut : ce qui a été fermé l'est encore.
standing-over = C'est passé, et cela n'autorise rien. Ce qui vaut maintenant est au tableau.
confirm-title = Répondre : la zone est dégagée
confirm-how = Tant que personne ne répond, ce message est répété et d'autres sont avertis.
confirm-clear = Personne n'est sur ou sous ce que ce message a fermé, et personne n'y va.
confirm = Confirmer
confirm-tick = Cochez d'abord la phrase : c'est elle que vous confirmez.
confirm-not-yours = Ce message ne vous est pas parvenu, ou vous y avez répondu. Qui l'a reçu répond ; l'ingénieur peut dire qui fut averti par téléphone.
confirm-other = On ne répond ici qu'à un retrait ou à une interdiction.
confirm-phone-title = Des gens ont été avertis par téléphone
confirm-phone = Qui, par qui, quand
confirm-phone-button = Ils sont avertis
confirm-told-wrong = Seul l'ingénieur dit que d'autres furent avertis par téléphone, en 1 à { $longest } caractères : qui, quand.
message-reached = À qui, et ce que c'est devenu
message-words = Mots exacts
message-words-how = Dans chaque langue de qui le reçoit. Une répétition le dit avant son numéro ; plusieurs travées peuvent partager un message.
message-short = Texte court
message-subject = Objet
language-en = anglais
language-fr = français
language-es = espagnol

## Fiches

nav-records = Fiches
records-title = Fiches
records-how = Les preuves imprimées de chaque autorisation, blocage et retrait, avec leurs mesures dedans. La même fiche est le même fichier, octet par octet.
records-none = Pas de fiche encore : il s'en fait une par autorisation, blocage et retrait.
record-title = Fiche { $no }
record-released = autorisé
record-requirement-met-not-signed = satisfait, non signé
record-withdrawal = retiré
record-hold = bloqué
record-freeze-suspected = bloqué, gel soupçonné
record-freeze-locked = bloqué, gelé
record-pdf = La fiche (PDF)
record-of = Travée { $bay }, { $what }
record-compare = Comparer numéro, travée et code de contrôle avec la feuille en main.
record-stranger = Ouvrir une session pour les preuves. STOP est pour tous.
no-record = Cette fiche n'existe pas
    .text = Autorisations, blocages et retraits ont des fiches ; la liste les a toutes.
