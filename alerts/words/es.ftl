# Las palabras de los mensajes de slabhour, en la sintaxis de Project Fluent (projectfluent.org).
# Una obra sustituye mensajes sueltos: un archivo del mismo nombre en una carpeta `words` junto al archivo de la obra.
# Las operaciones van en infinitivo: ninguna palabra puede leerse como "encofrado retirado".
# Los textos cortos pierden los acentos que el SMS no tiene (ó pasa a o).

## Horas, números, nombres

days = lun mar mié jue vie sáb dom
months = ene feb mar abr may jun jul ago sep oct nov dic
long-hour = { $day } { $date } { $month } { $year } { $time } UTC{ $offset }
short-hour = { $date } { $month } { $time } UTC{ $offset }
not-known = no se sabe
none = nada
number = num. { $no }
    .shorter = n. { $no }
repeat = repite num. { $no }
    .shorter = bis { $no }
numbers = num. { $numbers }
    .shorter = num. { $first } y { $more } más
    .shortest = n. { $first }+{ $more }
repeats = repite num. { $numbers }
    .shorter = repite num. { $first } y { $more } más
    .shortest = bis { $first }+{ $more }
with-code = { $no } { $code }
code = código { $code }
bay = paño
bays = paños { $bays }
    .shorter = { $count } paños, ver el tablero
    .shortest = { $count } paños
site = obra
pour = vertido
floor = planta
at-most = como máximo { $load }
percent = { $percent } %
item = { $what }: { $value }

operation-strip = desencofrar
operation-walk = pisar
operation-load = cargar
operation-full-load = cargar del todo
operation-uncover = destapar
operation-whole = vertido entero

## Líneas de cada mensaje

row-message = Mensaje
row-code = Código de control
row-site = Obra
row-floor = Planta
row-bay = Paño
row-pour = Vertido
row-hour = Hora
same-code = { $code }, el mismo en el tablero
demo = Hecho por la demostración, no por una persona.
not-released = Sin permiso: { $others }
still-shut = Sigue cerrado: { $others }
replaces = El num. { $no } sustituye a todo número menor de este vertido para: { $what }.
findings = Hallazgos para { $what }:
excluded = Excluido, esto no vale allí: { $where }
excluded-none = Excluido: nada
valid-until = Vale hasta { $hour }, después es nulo.
requirement = Requisito: { $text }
requirement-version = Requisito, versión { $version }: { $text }
anchor = Línea { $seq } del registro, huella { $hash }
cause = Causa: { $cause }
reason = Motivo: { $reason }
owner = Responsable: { $owner }
owner-people = Responsable: { $owner } ({ $people })
how = Para levantarlo: { $how }
helps = Qué hacer: { $how }
to-confirm = Cuando la zona esté despejada: slabhour confirm { $no } --who USTED. Esto se repite cada 5 minutos hasta entonces.

## Lo que limita un permiso: va antes de lo que permite

limit-met = , requisito cumplido
    .shorter = , cumplido
limit-load = , max { $load }
limit-spread = , carga repartida, sin ruedas, pilas ni paquetes de encofrado
    .shorter = , sin rueda/pila
limit-none = , sin carga añadida
limit-apart = {" "}(excluido: { $where })
    .shorter = {" "}(hay exclusiones)
    .shortest = {" "}(exclusión)
apart = , excluido: { $where }
limit-each = , cada uno con sus límites, ver el tablero
together-many = { $count } permisos, ver el tablero
    .shorter = { $count } permisos

## Finales de los textos cortos

end-shut = . SIN permiso: { $others }
    .shorter = . NO { $slashed }
    .shortest = . { $count } cerrados
end-still-shut = . Sigue cerrado: { $others }
end-until = . Hasta { $hour }
end-by = . Por: { $roles }
end-owner = . Responsable: { $owner }
end-reason = . { $reason }
end-confirm = . Confirme zona despejada
end-engineer = . Para el ingeniero
end-expected = . Prev. { $hour }, espere el permiso
    .shorter = . Prev. { $hour }
end-no-hour = . Sin hora con este frío
end-later = . Ahora en el turno de { $to }
end-back = . De vuelta al turno de { $to }
end-saves = . Lo evita: { $act } antes de { $hour }
    .shorter = . Lo evita: { $act }
end-none-has-come = . Ninguna lectura
end-newest = . Última { $hour }
end-withdrawn = . Anulado: { $cause }
    .shorter = . Anulado
end-chance = . Riesgo { $percent } %
end-coldest = . Mínima { $found }
end-area = . Hace falta { $need }, hay { $stock }
end-to-do = . { $count } por hacer
end-waiting = . { $count } SIN PERMISO
end-battery = . { $loggers }

## Permisos

released = AUTORIZADO
    .matter = : { $what }
    .signed = Firmado por: { $who }
met-not-signed = SIN FIRMA
    .matter = : { $what }
    .line = Nadie ha firmado: según la norma de esta obra, este mensaje solo dice que el requisito se cumple.
sign-off-wanted = SIN PERMISO
    .matter = , falta firma: { $what }
    .line = El requisito para { $what } se cumple. No se hace nada antes de la firma.
    .stripped = Si se desencofra ahora, según el pronóstico: punto más frío { $coldest }; { $percent } % de probabilidad de { $cold } o menos antes de { $strong }; carga esperada { $load }. Un pronóstico no permite nada.
    .later = no en tres días
    .wanted = Firmas pedidas: { $count }, de: { $roles }
    .command = Para firmar: { $command }

## Lo que cierra

withdrawal = ANULADO
    .strip = ANULADO
    .done = PROHIBIDO
    .deed = : no hacer "{ $what }" en
    .deed-strip = : no desencofrar
    .deed-walk = : no pisar
    .deed-load = : no cargar
    .deed-full-load = : no cargar del todo
    .deed-uncover = : no destapar
    .deed-whole = : no hacer nada en
    .act = , despejar, llamar al ingeniero:
    .act-strip = , apuntalar, llamar al ingeniero:
    .line = Todo permiso ({ $what }) queda anulado: atenerse a lo dicho arriba.
keep-off = PROHIBIDO
    .matter = ;
    .bays = {" "}{ $bays }
    .many = {" "}{ $count } paños, ver el tablero
    .cause = : { $cause }
    .list = No pisar: { $bays }
    .line = Mientras esto dure no vale ningún permiso para pisar o cargar estos paños.
released-early = MUY PRONTO
    .matter = , por { $early }: { $what }
    .line = Según las pruebas de hoy, el permiso ({ $what }) llegó { $early } antes de cumplirse su requisito.
in-doubt = EN DUDA
    .matter = , no fiarse de ningún permiso, preguntar al ingeniero:
    .line = Esto no confirma ni anula lo que tuvo permiso antes: pregunte al ingeniero antes de seguir.

## Frío y calor

cold-delay = RETRASO FRÍO
    .matter = , sin permiso: { $what }
    .wanted = Se quería: { $hour }
    .later = Pasa a un turno posterior: de { $from } a { $to }
    .back = De vuelta: del turno de { $from } al de { $to }
    .plan = Según las horas del plan: { $hour }
    .expected = Previsto: { $hour }, SIN PERMISO, espere el permiso
    .no-hour = Previsto: no hay hora mientras siga este frío
    .counted = Horas contadas, a { $limit } o más: { $found }
    .clock = Horas de reloj: { $found }
    .coldest = Hormigón más frío: { $found }
    .saves = Lo que lo evitaría: { $act } antes de { $hour }
saves-cover = cubrir
saves-heat = calentar
saves-cover-and-heat = cubrir y calentar
freeze-suspected = BLOQUEADO:
    .matter = {" "}posible helada, no se hace nada:
freeze-locked = CERRADO:
    .matter = {" "}helada, no se hace nada, llamar al ingeniero:
freezing-ahead = VIENE HELADA
    .matter = , desde { $hour }, proteger ya:
    .from = Puede helar desde { $hour }
    .chance = Riesgo: { $percent } %
    .coldest = Hormigón más frío previsto: { $found }
too-hot = MUY CALIENTE
    .matter = , { $found }, límite { $limit }:
    .line = { $sensor }: { $found }, límite { $limit }
too-steep = DIFERENCIA
    .matter = {" "}excesiva, { $found }, límite { $limit }:
    .line = Diferencia de temperatura: { $found }, límite { $limit }
drying-risk = DESECACIÓN
    .matter = {" "}posible, proteger la superficie:
cover-tonight = CUBRIR
    .matter = {" "}antes de { $hour }, { $first } primero:
    .list = Cubrir esta noche:
    .bay = paño { $bay }, vertido { $pour }: { $area }, mínima prevista { $low }, { $state }
    .covered = cubierto
    .bare = sin cubrir
    .first = El primero en helarse: paño { $bay }
    .by = Cubiertas puestas antes de { $hour }
    .area = Hace falta { $need }, hay { $stock }

## Bloqueos, registradores, mezclas

hold = BLOQUEADO:
    .matter = {" "}{ $hold }, no se hace nada:
logger-silent = SIN LECTURAS
    .matter = : { $sensor },
    .newest = Última lectura: { $hour }
    .never = Última lectura: no ha llegado ninguna
    .required = El sensor es exigido: mientras calle no se permite nada más en este vertido.
    .other = El sensor no es exigido: las horas y las decisiones siguen sin él.
logger-doubtful = DUDOSO:
    .matter = {" "}{ $sensor },
    .required = El sensor es exigido: mientras sea dudoso no se permite nada más en este vertido.
    .other = El sensor no es exigido: las horas y las decisiones siguen sin él.
low-battery = POCA PILA
    .matter = :
    .list = Registradores:
calibration = CALIBRACIÓN
    .matter = {" "}de { $mix }, revisar:

## Sobre los mensajes

delivery-failed = NO ENTREGADO
    .matter = : num. { $failed } para { $recipient },
    .line = { $recipient } no ha recibido el num. { $failed }. Dígaselo de otro modo.
    .kind = Clase: { $kind }
    .why = Motivo: { $why }
test = TEST
    .matter = , nada que hacer: este canal llega a { $recipient },
    .line = Prueba de un canal. No dice nada de ningún hormigón. Si lo lee, el canal funciona.
    .channel = Canal: { $channel }

## Listas

morning-list = LISTA DE HOY
    .matter = , no permite nada:
handover = RELEVO
    .matter = , no permite nada:
list-released = AUTORIZADO, AÚN SIN HACER
list-expected = PREVISTO, SIN PERMISO
list-look-first = MIRAR PRIMERO
list-under-way = EN MARCHA
list-holds = BLOQUEOS
list-deliveries = MENSAJES SIN CONFIRMAR O SIN ENTREGAR
list-permit = paño { $bay }, vertido { $pour }{ $limits }: { $what }, desde { $hour }
list-waits = paño { $bay }, vertido { $pour }, SIN PERMISO: { $what }, previsto { $hour }; { $cause }
list-no-hour = hora desconocida

## Advertencias: una por mensaje, la última línea

govern = Mandan el ingeniero responsable, el contrato y las normas locales.
bare-joists = losa sobre viguetas solas, carga repartida, sin ruedas, pilas ni paquetes de encofrado
caution-met = Precaución: se cumple el requisito para { $noun }, nada más.
caution-request = Precaución: esto es una petición, no un permiso: no se hace nada antes del permiso mismo.
caution-strip = Sin carga añadida; después de desencofrar la losa se sostiene sola sobre sus viguetas.
caution-walk = Sin carga añadida, nada apilado, nunca mientras se desencofra debajo.
caution-load = { govern } Carga de obra { $load }: { bare-joists }
noun-strip = desencofrar
noun-walk = personas a pie
noun-load = la carga de obra
shut-strip = Precaución: el encofrado se queda y no se carga nada hasta un mensaje que lo diga. { govern }
shut-walk = Precaución: nadie lo pisa hasta un mensaje que lo diga. { govern }
shut-load = Precaución: no se carga nada hasta un mensaje que lo diga. { govern }
shut-below = Precaución: solo la cuadrilla que desencofra está debajo o encima de estos paños, nadie más. { govern }
shut-prop = Precaución: nadie encima, y debajo solo quien apuntala, hasta que el ingeniero lo haya visto. { govern }
shut-nobody = Precaución: nadie encima ni debajo hasta que el ingeniero lo haya visto. { govern }
shut-all = Precaución: este mensaje no permite nada. { govern }
shut-list = Precaución: esta lista no permite nada; cada permiso tiene su propio mensaje. { govern }
shut-test = Precaución: esto es una prueba y nada más.

## Gráfico

chart = Hormigón más frío y límite inferior de resistencia, por hora
chart-hour = Horas
chart-coldest = Más frío
chart-bound = Límite inferior de resistencia
chart-needs = exigido

## Frases de las pruebas

said-not-met = { $rule }: { $found }, exige { $limit } - no cumplido
said-met = { $rule }: { $found }, exige { $limit } - cumplido
said-simply-not-met = { $rule }: { $found } - no cumplido
said-simply-met = { $rule }: { $found } - cumplido
said-not-known = no se sabe
said-none = ninguno
said-yes = sí
said-done = hecho
said-not-done = sin hacer
said-none-on-file = ninguno archivado
said-counted = horas contadas a { $limit } o más
said-counted-hours = horas contadas
said-warm = mínima de las últimas { $hours }
said-bound = límite inferior de resistencia
said-load = carga de obra
said-consent = consentimiento escrito del ingeniero
said-strip-near = se desencofra debajo o al lado
said-alive = sensores exigidos presentes
said-silent = callados: { $sensors }
said-in-its-place = { $sensor } calla, en su lugar: { $others }
said-in-its-place-cold = { $sensor }: calla, y en su lugar { $found }
said-stripping-below = se desencofra debajo
said-stop-why = STOP pulsado: { $why }
said-stop = STOP pulsado
said-forms-off = falta el encofrado, sin permiso
said-age = edad desde el fin del vaciado
said-count = { $of } que cuentan
said-lowest = mínimo de los { $of }
said-tests-in-slab = ensayos en la losa
said-tests = ensayos
said-cylinders = cilindros
said-no-specified = sin resistencia especificada en archivo
said-surface-apart = diferencia entre superficie y aire
said-drop = descenso en { $hours } como máximo
said-second-check = control por una segunda persona
said-elapsed = tiempo transcurrido controlado
said-room = espacio en el disco del servicio
said-end-of = el fin de { $pours }, vaciada contra ella
said-calibration-fit = una calibración de la mezcla { $mix } apta para autorizar
said-calibration-day = una calibración de la mezcla { $mix } para vertidos de este día
said-calibration-of = la calibración de { $mix }
said-not-required = { $sensor } ya no es exigido
said-other-zone = { $sensor } se exige en otra zona que antes: { $zone }
said-by-hand = a mano, sonda manual, { $who }
said-gone = { $what } ya no está escrito
said-asks-less = { $what } exige menos que antes ({ $version })
said-engineer-lifts = el ingeniero lo levanta: aceptado por escrito, o repuesto
said-ticket = la remisión { $ticket } dice { $mix }, se anotó { $entered }
said-enter-mix = anotar la mezcla entregada: slabhour mix
said-ticket-dose = remisión { $ticket }: clase de dosis { $dose }, calibrada para { $known }
said-ticket-water = remisión { $ticket }: { $added } de agua añadidos, { $withheld } retenidos en planta
said-ticket-age = remisión { $ticket }: { $minutes } min desde la dosificación hasta la colocación
said-ticket-temperature = remisión { $ticket }: hormigón a { $found }
said-ticket-air = remisión { $ticket }: { $air } % de aire, { $wanted } % pedido
said-ticket-late = remisión { $ticket }: colocada después del fin del vertido anotado
said-tickets-more = { $count } más en las remisiones
said-find-delivered = averiguar qué se entregó y ensayarlo
said-lifting-calibration = levantarla dice que la calibración vale para este hormigón
said-look-loggers = revisar los registradores de este vano y de los vecinos, corregir el archivo de obra
said-lifting-lies = levantarlo dice que el sensor está en el concreto de este vaciado
said-measure-beside = medir junto al sensor
said-lifting-right = levantarlo dice que su medida es correcta
said-stuck = { $sensor } da un solo valor desde hace horas y el aire cambió
said-restless = { $sensor } sube y baja más rápido que un concreto
said-not-fresh = { $sensor } empieza fuera del concreto fresco ({ $range }): ver su unidad
said-apart = { $sensor } tiene más de { $apart } sobre { $other } de su zona
said-spike = { $sensor } saltó en una sola lectura y volvió
said-unit = { $sensor } saltó al número de la otra unidad de temperatura: ver su unidad
said-batch = { $sensor } envió lecturas retenidas con la hora de su llegada: ninguna cuenta
said-clock-ahead = el reloj de { $sensor } fue adelantado: las horas que saltó no cuentan
said-clock-back = el reloj de { $sensor } fue atrasado: las horas dichas dos veces no cuentan
said-clock-fast = el reloj de { $sensor } va demasiado rápido: lo dicho mientras tanto no cuenta
said-pace = { $sensor } mide cada { $found } min y no cada { $set } como dice el archivo de la obra
said-error-value = { $sensor } dijo un valor de error declarado para su tipo: rechazado, como si no hubiera dicho nada
said-unseen = { $sensor } no se ha visto en el hormigón: ningún salto al colocar, ningún retraso respecto al aire
said-as-air = { $sensor } seguía el aire hasta después del vaciado
said-follows-air = { $sensor } sigue el aire como ningún concreto
said-felt-nothing = { $sensor } estaba en algo más caliente o frío que el aire antes del vaciado, y no sintió la colocación
said-felt-not = { $sensor } no sintió la colocación, pero { $other }, que debía estar al aire, sí
said-locked-no-top = { $sensor } a { $found } antes de { $strength }, sin sensor arriba
said-not-believed = no creídos: { $sensors }
said-dropped = { $sensor } ha bajado tanto en { $hours }
said-coldest-hottest = del sensor más frío al más caliente del vano
said-clock-day = el reloj del servicio lleva un día sin sincronizarse
said-calibration-suspended = la calibración de { $mix } está suspendida: { $why }
said-suspended = suspendida: { $why }
said-two-sets = dos series seguidas de cilindros al { $one } y { $two } % de su curva
said-less = cilindros al { $percent } de su curva: la curva cuenta otro tanto menos
said-at-curve = cilindros al { $percent } de su curva
said-calibrate-anew = calibrar la mezcla de nuevo
said-not-judged-more = lo no terminado ya no se juzga con esta versión
said-find-why = averiguar por qué: mezcla, cilindros, su registro de temperatura
said-whether-mix = averiguar si es la mezcla: remisiones, dosis
said-drift = sus cilindros bajan de su curva, un poco cada vez
said-look-mix = ver la mezcla antes de que una serie sea baja
said-valid-through = la versión { $version } vale para vertidos hasta el { $day }
said-cylinders-now = hacer cilindros ahora y calibrar la mezcla de nuevo
said-below-limit = hormigón bajo el límite: { $hours } hasta ahora
said-cold-ahead = hormigón bajo el límite en { $hours }, según el pronóstico
said-unread = sin lecturas: { $hours }
said-locked = { $sensor } a { $found } antes de { $strength }
said-may-hide = { $sensor }: { $hours } sin lecturas que pueden ocultar helada antes de { $strength }
said-two-values = { $sensor } envió { $one } y { $other } para la misma hora
said-find-out = averiguar cuál es la correcta
said-colder = cuenta la más fría
said-measure = medir la superficie del hormigón: más de { $limit } levanta el bloqueo
said-cover-before = colocar mantas aislantes, o calentar el espacio de abajo, antes de esa hora
said-disposition = ensayos directos del hormigón y la decisión escrita del ingeniero
said-clock = el reloj del servicio no está sincronizado
said-freeze-suspected = posible helada
said-freeze-locked = helada, cerrado
said-conflict = lecturas contradictorias
said-sensor-doubtful = sensor dudoso
said-placement = ubicación dudosa
said-mix = mezcla dudosa
said-ticket-kind = remisión en duda
said-requirement-lowered = requisito rebajado
said-strip-cold = desencofrado con frío
said-strip-cold-chance = desencofrado ahora, { $percent } de probabilidad de { $limit } o menos antes de { $strength }, según el pronóstico
said-strip-cold-how = calentar el espacio de abajo, o desencofrar a una hora menos fría
said-strip-cold-says = levantarla dice que la losa se mantiene caliente
said-role-superintendent = jefe de obra
said-role-engineer = ingeniero
said-role-crew = cuadrilla
said-role-installer = instalador
said-kind-released = permiso
said-kind-withdrawal = anulación
said-kind-keep-off = prohibición
said-kind-sign-off-wanted = firma pedida
said-kind-met-not-signed = requisito cumplido, sin firma
said-kind-cold-delay = retraso por frío
said-kind-hold = bloqueo
said-kind-silent = registrador callado
said-not-judged = aún sin juzgar
said-nobody = nadie lo ha confirmado
said-doubt = { $what } en duda
said-owner = responsable { $owner }
said-state-withdrawn = anulado
said-state-suspended = suspendido
said-state-done-without-release = hecho sin permiso
said-operation-strip = desencofrar
said-operation-walk = pisar
said-operation-load = cargar
said-plan = el ingeniero no ha adoptado el plan
said-calibration = ninguna calibración de la mezcla { $mix }
said-end = el fin del vertido
said-required = un sensor exigido en el hormigón
said-load-on-file = la carga de obra del ingeniero
said-order-beyond = { $what } pide { $asked }: sin pedido, la curva lo tiene más allá de las { $hours } h ensayadas
said-order-no-curve = { $which }: no hay madurez que pedir
said-order-suspended = su calibración está suspendida, { $why }: haga probetas para una nueva, slabhour calibrate
said-due-cold = todavía ningún juego de un vertido bajo 10 °C en su primer día, desde que hace tanto frío
said-due-many = { $count } vertidos desde el último con juego
said-due-long = ningún juego desde hace { $days } días
said-line = paño { $bay }, vertido { $pour }, { $rest }
said-pair = { $what }: { $why }
