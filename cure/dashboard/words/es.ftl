# Las palabras de las páginas, en la sintaxis de Project Fluent (projectfluent.org). A revisar por un hablante nativo.

## Horas

days = lun mar mié jue vie sáb dom
months = ene feb mar abr may jun jul ago sep oct nov dic
hour-of-day = { $day } { $time }
hour-of-date = { $date } { $month } { $time }
hour-whole = { $day } { $date } { $month } { $year } { $time } UTC{ $offset }

## El marco de cada página

language-name = Español
skip = Ir al contenido
nav-board = Tablero
nav-people = Personas
nav-devices = Pantallas
nav-settings = Ajustes
nav-label = Páginas
served = Página de { $hour }
heard = Servidor oído
no-contact = Sin contacto con el servidor de la obra. Esta página muestra { $hour }. No actuar según ella hasta que vuelva el contacto.
signed-in = Sesión: { $person }, { $role }
device-reads = Pantalla «{ $device }», solo lee
not-signed-in = Sin sesión
sign-out = Cerrar sesión
sign-in = Iniciar sesión
demo = Demostración: una obra inventada. Quien está en esta máquina actúa por { $person } sin contraseña; una obra real pide una.
caution = «Autorizado» dice que el requisito se cumple y está firmado, y nada más. Esta página informa de pruebas, no permite nada: mandan el ingeniero responsable, el contrato y las normas locales. Sin mensaje = sin permiso.
role-viewer = lectura
role-crew = cuadrilla
role-superintendent = jefe de obra
role-qc = control de calidad
role-engineer = ingeniero
role-installer = instalador
role-admin = administración
nobody-has-it = nadie todavía

## Operaciones y signos

operation-strip = Desen{"\u00AD"}cofrar
operation-walk = Pisar
operation-load = Cargar
operation-full-load = Cargar del todo
operation-uncover = Destapar
sign-not-set-up = Sin ajustar
sign-curing = Curando
sign-hold = Bloquea{"\u00AD"}do
sign-met = Por firmar
    .unsigned = Cumplido, sin firma
sign-released = Autori{"\u00AD"}zado
sign-under-way = En marcha
sign-done = Hecho
sign-withdrawn = Anulado: no hacer nada
    .strip = Anulado: no desen{"\u00AD"}cofrar
    .walk = Anulado: no pisar
    .load = Anulado: no cargar
sign-done-without = Hecho sin permiso
    .strip = Desen{"\u00AD"}cofrado sin permiso
sign-suspended = En duda
sign-keep-off = Prohi{"\u00AD"}bido
sign-stopped = En duda
stripping-near = se desencofra debajo o al lado
stopped-reason = nadie juzga
signed-so-far = firmas: { $count }
not-looked-at = aún sin examinar
being-confirmed = cumplido, por confirmar
key-not-set-up = falta algo que una persona debe dar
key-curing = el requisito no se cumple; no se da ninguna hora
key-hold = una duda que una persona debe levantar
key-met = el requisito se cumple y falta una firma
key-released = el requisito se cumple y está firmado; nada más se dice
key-under-way = la cuadrilla ha empezado
key-done = anotado como hecho
key-withdrawn = un permiso fue contradicho, o se pulsó STOP
key-done-without-release = hallado hecho sin permiso
key-suspended = reloj, datos o registro del servicio en duda, o nadie juzga: preguntar al ingeniero

## Tablero

board-title = Cómo está cada paño
bay = Paño
floor = Planta { $floor }
floors-label = Plantas
all-floors = Todas
evidence = Pruebas
to = hasta { $hour }
evidence-old = hasta { $hour }, antiguo
no-reading = sin medidas
others = Otras
group-look-first = Mirar primero
    .hint = algo va mal
group-released = Autorizado, aún sin hacer
    .hint = la cuadrilla puede actuar, o actúa
group-sign-off = Por firmar
    .hint = requisito cumplido
group-curing = Curando
    .hint = requisito no cumplido
group-done = Hecho
    .hint = anotado
no-pours = Aún no hay vertidos.
no-pours-how = Para empezar uno: slabhour pour start BAY POUR
what-signs-mean = Lo que dicen las formas
doubt = Todo está suspendido, { $what } en duda: { $reason }
doubt-clock = el reloj del servicio está
doubt-store = un almacén está
doubt-log = el registro está
estimates-stopped = Las estimaciones pararon a las { $hour }: los signos de abajo no son de hoy. Llamar a quien cuida el servidor.
no-forecast = Aún no se prevén horas: «Curando» va sin hora.
clock-not-checked = Esta obra no pregunta si el reloj del servidor va bien.
silence-not-watched = Nadie de fuera recibe aviso cuando este servidor calla.

## Sesión, ajustes

sign-in-title = Iniciar sesión
name = Nombre
password = Contraseña
code = Código de su aplicación
sign-in-how = Nombres y enlaces los da la administración de la obra.
sign-in-wrong = Este nombre y esta contraseña no van juntos.
sign-in-wait = Demasiados intentos. Probar de nuevo en { $minutes } min.
open-text = Esta conexión no está cifrada: lo que escribe se puede leer en el camino.
settings-title = Ajustes
language = Idioma
units = Unidades
units-SI = °C, MPa, mm
units-US = °F, psi, in
acting = Actuar por (demostración)
keep = Guardar
for-this-browser = Para este navegador.

## Un enlace de un solo uso, personas, pantallas

welcome-title = Crear su cuenta
welcome-how = Este enlace sirve una vez, hasta { $hour }.
password-new = Contraseña, al menos { $shortest } caracteres
password-again = Contraseña otra vez
second-factor = Segundo factor
second-factor-how = Léalo con una aplicación de autenticación, o escriba la clave, y dé el código que muestra. Cada firma pide un código nuevo.
key = Clave
make-account = Crear cuenta
wrong-title = Aún sin hacer:
wrong-name = Este nombre no sirve aquí. Minúsculas, cifras y «-»; las personas del archivo de obra tienen sus propios enlaces.
wrong-short = La contraseña pide al menos { $shortest } caracteres.
wrong-again = Las dos contraseñas son distintas.
wrong-code = El código no es correcto, o ya se usó. Espere el siguiente.
wrong-taken = Ya hay una cuenta con ese nombre.
wrong-person = Elija a alguien del archivo de obra, o un nombre nuevo con el papel lectura o administración.
wrong-self = Nadie cierra su propia cuenta.
wrong-device = Dé a la pantalla un nombre de { $longest } caracteres como mucho.
people-title = Personas
people-how = Lo que pueden las personas del archivo de obra se dice allí. La administración deja entrar y no firma.
role = Papel
account-since = cuenta desde { $hour }
account-none = aún sin cuenta
account-ended = cuenta cerrada
has-second-factor = segundo factor
invite-title = Dejar entrar a alguien
invite = Crear un enlace de un solo uso
invite-how = El enlace crea la cuenta, o la rehace: la contraseña y el segundo factor de antes acaban entonces.
of-site-file = según el archivo de obra
one-time-link = Enlace de un solo uso para { $person }. Entréguelo ahora: se muestra una vez.
end = Cerrar cuenta
end-of = Cerrar la cuenta de { $person }
devices-title = Pantallas
devices-how = Una pantalla con clave lee todas las páginas y no hace nada. Quien tiene el código ve lo que ve la pantalla.
add-device = Añadir una pantalla
device-name = Nombre, por ejemplo «caseta»
device-link = Léalo con «{ $name }». Se muestra una vez.
end-device = Quitar
end-device-of = Quitar «{ $name }»
no-devices = No hay pantallas.
device-title = Leer con esta pantalla
device-how = «{ $name }» leerá las páginas de { $site } sin persona, hasta que se quite su clave.
device-take = Leer aquí

## Paño, vertido, firma, STOP

nav-sign = Firmar
none = ninguno
mix = hormigón { $mix }
pour-named = vertido { $pour }
no-bay = No existe ese paño
    .text = El tablero tiene todos los paños.
no-pour-here = No hay ningún vertido abierto en este paño.
placed = Vertido de { $start } a { $end }
placed-since = Se vierte desde { $start }; el final no está anotado
stopped-here = Nadie juzga ya este vertido: lo que pone aquí no es de hoy.
signed-by = Firmado por { $who }
not-released = Sin permiso: { $what }.
not-by-this = Sin permiso por esto: { $what }.
excluded = Excluido: { $where }.
limit = El requisito se cumple, nada más.
    .strip = Sin carga añadida; después de desencofrar la losa se sostiene sola sobre sus viguetas.
    .walk = Sin carga añadida, nada apilado, nunca mientras se desencofra debajo.
limit-load = Como mucho { $load }: losa sobre viguetas desnudas, carga repartida, sin ruedas, pilas ni paquetes de encofrado.
tap-under-way = En marcha: { $what }
tap-done = Hecho: { $what }
hold-line = Bloqueado: { $reason } (desde { $since }, responsable: { $owner })
hold-how = Para levantarlo: { $how }
why = Por qué: { $what }
missing = Falta: { $what }
end-not-entered = final del vertido sin anotar
counted-at = { $hours } a { $limit } o más
evidence-to = Pruebas hasta
fact-age = Edad
fact-bound = Límite inferior de resistencia
fact-estimate = Resistencia, estimación
fact-coldest = Lo más frío
fact-counted = Horas contadas
fact-governing = Sensor determinante
curves = Curvas de curado
curves-shown = Parte mostrada
curves-last = últimas { $hours } h
curves-all = desde el primer hormigón
curves-as-of = Leídas a las { $hour }; vuelva a cargar la página para ver lo nuevo.
sensors = Sensores
stranger = Inicie sesión para leer este paño. STOP es para todos.
pour-page = Inicio o final de vertido
stop-page = STOP
pour-title = Vertido en el paño { $bay }
pour-start-title = El primer hormigón está colocado
pour-start = Inicio de vertido
pour-end-title = El último hormigón está colocado
pour-end-later = Llegó hormigón más tarde: el final es más tarde
pour-end = Final de vertido
pour-name = Nombre del vertido
pour-closes = El vertido { $pour } acaba aquí para siempre: las medidas de este paño son del siguiente.
earlier = Fue antes: hora del día (vacío si es ahora)
sign-none = Nada espera su firma.
sign-button = Firmar lo marcado
sign-nothing = Marque lo que firma.
sign-tick = Marque las dos frases.
sign-moved = Las pruebas de { $what } han cambiado desde que las vio, y nada se firmó. Mire otra vez.
sign-not-you = Contraseña o código incorrectos, o código ya usado. Nada se firmó.
sign-refused = { $what } no se firmó: { $why }
signed-now = Firmado: { $what }. Se avisa a la cuadrilla.
box-read = He leído las constataciones de arriba; el requisito se cumple.
box-nothing-else = Lo marcado se hace por esta firma, y nada más.
stop-title = STOP, paño { $bay }
stop-how = Esto cierra todo para el vertido del paño y avisa a todos. No autoriza nada. Púlselo si duda.
stop-why = ¿Qué ha visto? (puede quedar vacío)
stop-first = STOP: primera pulsación
stop-sure = Pulse otra vez: entonces todo queda cerrado en el paño { $bay }.
stop-second = STOP paño { $bay }
stop-done = STOP pulsado. Todo está cerrado en el paño { $bay }, y se avisa a la gente.
stop-next = Nadie encima ni debajo hasta que el ingeniero lo haya visto.
stop-no-reason = sin motivo dado

## Lo que va mal

store-down = El servidor no puede leer sus datos
    .text = No se muestra nada, porque podría ser antiguo. Llamar a quien cuida el servidor.
refused = Sin hacer
    .text = Se rechazó, y nada cambió.
broken = Algo falló
    .text = No consta nada hecho. Está en el registro del servidor; mire el tablero antes de probar otra vez.
foreign-form = Este formulario no viene de una página de este servidor
    .text = No se hizo nada. Abra la página aquí y envíelo otra vez.
old-form = Este formulario es demasiado viejo
    .text = No se hizo nada. Abra la página otra vez.
not-allowed = Hace falta otro papel
    .text = Hace falta: { $roles }. Quién lo tiene: { $people }.
not-found = No existe esa página
    .text = El tablero tiene todos los paños.
link-used = Este enlace no sirve
    .text = Se usó, caducó o fue sustituido. Pida otro a la administración.
demo-elsewhere = La demostración se lee solo en su propia máquina
    .text = No tiene contraseñas, así que nadie más entra.
to-the-board = Al tablero

# The calendar feed
calendar-name = Horas de { $site }: ESPERADO, NO LIBERADO
calendar-expected = ESPERADO, NO LIBERADO: { $operation } { $bay }
calendar-signed = { $operation } { $bay }: liberación firmada a esta hora; vea en el tablero si sigue en pie
calendar-ask = Estado: { $hour }. Un calendario puede tener horas de retraso: solo el tablero y los mensajes dicen qué está liberado.
## Mensajes

nav-messages = Mensajes
messages-title = Mensajes
messages-how = Lo que se dijo, por su propio asunto, primero lo más nuevo; a quién, y qué fue de ello.
messages-waiting = Esperan a alguien
messages-newest = Todos, primero lo más nuevo
messages-none = Todavía no hay mensajes.
messages-all = De todos los paños
older = Más antiguos
told-nobody = Enviado a nadie todavía.
check-code = código de control { $code }
attempts = { $count ->
    [one] 1 intento
   *[other] { $count } intentos
    }
accepted-at = aceptado { $hour }
delivery-queued = en cola
delivery-calling = enviándose
delivery-accepted = aceptado por el canal
delivery-waiting = aún sin aceptar, se intenta otra vez
delivery-unsure = quizá llegó, nadie lo sabe
delivery-superseded = no enviado: ya no es cierto
delivery-refused = rechazado por el canal
delivery-escalated = abandonado: se avisa al siguiente
delivery-confirmed = confirmado por una persona
message-title = Mensaje n.º { $no }
no-message = No existe ese mensaje
    .text = La lista tiene todos los mensajes.
said-then = Son las palabras de aquella hora. Lo que vale ahora está en el tablero.
standing-stands = Esto vale a la hora de esta página. El tablero tiene lo que vino después.
standing-keep-off = No pisar ahora: se desencofra aquí, debajo o al lado.
standing-expired = Nulo: pasó su hora y nadie empezó. Siga el tablero.
standing-doubted = En duda: tómelo como sin permiso, y pregunte al ingeniero.
standing-fallen = ESTO YA NO VALE. Siga el tablero.
standing-shut = Esto vale: lo que cerró sigue cerrado.
standing-over = Esto pasó, y no permite nada. Lo que vale ahora está en el tablero.
confirm-title = Responder: la zona está despejada
confirm-how = Mientras nadie responda, este mensaje se repite y se avisa a otros.
confirm-clear = Nadie está encima ni debajo de lo que este mensaje cerró, y nadie va allí.
confirm = Confirmar
confirm-tick = Marque antes la frase: es lo que usted confirma.
confirm-not-yours = Este mensaje no le llegó, o ya lo respondió. Responde quien lo recibió; el ingeniero puede decir a quién se avisó por teléfono.
confirm-other = Aquí solo se responde a una retirada o a una prohibición.
confirm-phone-title = Se avisó por teléfono
confirm-phone = A quién, quién, cuándo
confirm-phone-button = Están avisados
confirm-told-wrong = Solo el ingeniero dice que se avisó a otros por teléfono, en 1 a { $longest } caracteres: a quién, cuándo.
message-reached = A quién, y qué fue de ello
message-words = Palabras exactas
message-words-how = En cada idioma de quien lo recibe. Una repetición lo dice antes de su número; varios paños pueden compartir un mensaje.
message-short = Texto corto
message-subject = Asunto
language-en = inglés
language-fr = francés
language-es = español

## Fichas

nav-records = Fichas
records-title = Fichas
records-how = Las pruebas impresas de cada permiso, bloqueo y retirada, con sus medidas dentro. La misma ficha es el mismo archivo, byte a byte.
records-none = Todavía no hay fichas: se hace una de cada permiso, bloqueo y retirada.
record-title = Ficha { $no }
record-released = permitido
record-requirement-met-not-signed = cumplido, sin firmar
record-withdrawal = retirado
record-hold = bloqueado
record-freeze-suspected = bloqueado, helada posible
record-freeze-locked = bloqueado, helado
record-pdf = La ficha (PDF)
record-of = Paño { $bay }, { $what }
record-compare = Compare número, paño y código de control con la hoja que tiene en la mano.
record-stranger = Inicie sesión para ver las pruebas. STOP es para todos.
no-record = No existe esa ficha
    .text = Permisos, bloqueos y retiradas tienen fichas; la lista las tiene todas.
