#include "bay/messages.h"

#include <map>
#include <stdexcept>

namespace squaresight::bay {

const std::vector<Message>& messages() {
    static const std::vector<Message> list{
        // the frame of every page
        {"program", "Mount aim", "Orientación del soporte"},
        {"to_content", "Straight to the page", "Directo al contenido"},
        {"all_jobs", "All jobs", "Todos los trabajos"},
        {"leave", "Sign this device out", "Cerrar sesión en este equipo"},
        {"save", "Save and go on", "Guardar y seguir"},
        {"back_to_job", "Back to the job", "Volver al trabajo"},
        {"please_check", "Please check", "Por favor, revise"},
        {"yes", "yes", "sí"},
        {"no", "no", "no"},
        {"none", "not measured", "sin medir"},
        {"left_out", "left out", "sin dato"},
        {"not_answered", "not answered", "sin responder"},
        // pairing
        {"pair_title", "Connect this device", "Conectar este equipo"},
        {"pair_words",
         "Type the code that the shop's computer shows. Each code works once, for ten minutes.",
         "Escriba el código que muestra la computadora del taller. Cada código sirve una vez, "
         "durante diez minutos."},
        {"code", "Code", "Código"},
        {"pair_button", "Connect", "Conectar"},
        {"wrong_code", "This code is wrong, used or too old. Ask for a new one.",
         "Este código es incorrecto, ya se usó o venció. Pida uno nuevo."},
        {"too_many_tries", "Too many wrong codes. Wait one minute, then try again.",
         "Demasiados códigos incorrectos. Espere un minuto e intente de nuevo."},
        // lists
        {"jobs", "Jobs", "Trabajos"},
        {"new_job", "Begin a new job", "Empezar un trabajo nuevo"},
        {"no_jobs", "No job yet.", "Todavía no hay trabajos."},
        {"cannot_be_read", "cannot be read", "no se puede leer"},
        {"shop_page", "The shop: devices and equipment", "El taller: equipos y materiales"},
        // new job
        {"bay", "Bay", "Puesto"},
        {"job", "Work order", "Orden de trabajo"},
        {"vehicle", "Vehicle unit number", "Número de unidad del vehículo"},
        {"vehicle_model", "Vehicle model, as the shop calls it",
         "Modelo del vehículo, como lo llama el taller"},
        {"technician", "Technician code (no name)", "Código del técnico (sin nombre)"},
        {"mount", "Mount", "Soporte"},
        {"camera", "Phone", "Teléfono"},
        {"target", "Board", "Tablero"},
        {"cradle", "Cradle", "Base del teléfono"},
        {"no_cradle", "none", "ninguna"},
        {"is_it_this", "Compare it with the mount on the truck.",
         "Compárelo con el soporte del camión."},
        {"mount_other", "is another one now: compare its picture with the truck, then begin",
         "es otro ahora: compare su dibujo con el camión y empiece"},
        {"distance", "Distance from the mount's face to the board's centre",
         "Distancia de la cara del soporte al centro del tablero"},
        {"begin", "Begin", "Empezar"},
        // problems of a form
        {"needed", "is needed", "es necesario"},
        {"no_number", "is not a whole number; choose it again",
         "no es un número entero; elíjalo de nuevo"},
        {"no_length", "is not a length; write a number, or 16' 4 1/2\" or 5000 mm",
         "no es una longitud; escriba un número, o 16' 4 1/2\" o 5000 mm"},
        {"no_angle", "is not an angle; write a number, such as 0.5",
         "no es un ángulo; escriba un número, como 0,5"},
        {"inches_over", "has 12 inches or more beside its feet; count each 12 as a foot",
         "tiene 12 pulgadas o más junto a sus pies; cuente cada 12 como un pie"},
        {"thousands", "can be read in two ways; write thousands without a comma or a point",
         "se puede leer de dos maneras; escriba los miles sin coma ni punto"},
        {"two_units", "is given in two units; leave one of them empty",
         "está en dos unidades; deje una vacía"},
        {"side_missing", "needs its side or direction", "necesita su lado o dirección"},
        {"size_missing",
         "has a side but no size; enter it (0 if there is none), or choose \"Not measured\"",
         "tiene lado pero no medida; anótela (0 si no hay), o elija \"Sin medir\""},
        {"not_offered", "is not one of the choices", "no es una de las opciones"},
        {"pair_missing", "needs both heights, or neither", "necesita las dos alturas, o ninguna"},
        {"order_taken",
         "is that of another job already; open it from the list of all jobs, or give this one "
         "another",
         "ya es la de otro trabajo; ábralo en la lista de todos los trabajos, o póngale otra a "
         "este"},
        {"order_anew", "was given to another job meanwhile; the one shown now is free",
         "se dio mientras tanto a otro trabajo; la que se muestra ahora está libre"},
        {"day_before_job", "lies before this job was begun; write the day on which it was done",
         "es anterior al comienzo de este trabajo; escriba el día en que se hizo"},
        {"day_to_come", "is a day still to come; write the day on which it was done",
         "es un día que aún no llega; escriba el día en que se hizo"},
        {"out_of_range", "is out of range; check the number and its unit",
         "está fuera de rango; revise el número y su unidad"},
        {"too_long", "is too long", "es demasiado largo"},
        {"stale_title", "Someone else changed this job", "Otra persona cambió este trabajo"},
        {"stale_words",
         "Nothing of yours was saved. Compare both below, then open the page again and enter what "
         "is still missing.",
         "No se guardó nada suyo. Compare abajo, abra la página de nuevo y anote lo que falte."},
        {"stale_look",
         "Nothing of yours was saved. Open the page again and look at what stands there now.",
         "No se guardó nada suyo. Abra la página de nuevo y mire lo que hay ahora."},
        {"stale_theirs", "What is saved now", "Lo que está guardado ahora"},
        {"stale_yours", "What you entered", "Lo que usted anotó"},
        {"open_again", "Open the page again", "Abrir la página de nuevo"},
        {"refused_title", "That did not work", "Eso no funcionó"},
        {"forbidden", "This device may not do that. Ask the shop lead for another code.",
         "Este equipo no puede hacer eso. Pida otro código al jefe de taller."},
        {"forged", "The form is too old or did not come from this page. Go back and open it again.",
         "El formulario es muy viejo o no viene de esta página. Vuelva y ábralo de nuevo."},
        {"not_found", "There is no such page or job. Choose the job from the list.",
         "No existe esa página ni ese trabajo. Elija el trabajo en la lista."},
        {"wrong_name",
         "This computer is not known by that name. Type the address that the shop's computer "
         "shows.",
         "Esta computadora no se conoce por ese nombre. Escriba la dirección que muestra la "
         "computadora del taller."},
        {"too_large",
         "That is larger than this page takes. Nothing was saved. Choose one photo that the "
         "phone's camera took, or write less, and send it again.",
         "Eso es más grande de lo que acepta esta página. No se guardó nada. Elija una sola foto "
         "tomada con la cámara del teléfono, o escriba menos, y envíelo de nuevo."},
        {"not_understood",
         "The browser sent what this page does not understand. Nothing was saved. Try again.",
         "El navegador envió algo que esta página no entiende. No se guardó nada. Intente de "
         "nuevo."},
        {"file_trouble",
         "The shop's computer has trouble with a file, so this was not done. Tell the shop lead:",
         "La computadora del taller tiene un problema con un archivo y no lo hizo. Avise al jefe "
         "de taller:"},
        {"broken", "The server could not do that. Try again; tell the shop lead if it stays so.",
         "El servidor no pudo hacerlo. Intente de nuevo; avise al jefe de taller si sigue igual."},
        // steps of a job
        {"next_step", "Next", "Siguiente"},
        {"step_ready", "Get ready", "Preparación"},
        {"step_board", "Set up the board", "Colocar el tablero"},
        {"step_photos", "Take the photos", "Tomar las fotos"},
        {"step_tape", "Tape and level", "Cinta y nivel"},
        {"step_answer", "The answer", "El resultado"},
        {"step_finish", "Finish", "Terminar"},
        {"done", "done", "hecho"},
        {"open_step", "open", "pendiente"},
        {"stage", "Measurement", "Medición"},
        {"as-found", "as found", "como llegó"},
        {"adjusted", "after turning", "después de girar"},
        {"as-left", "as left", "como queda"},
        {"report", "Whole report with pictures (two pages)",
         "Informe completo con imágenes (dos páginas)"},
        {"report_language", "The report is in English.", "El informe está en inglés."},
        {"handover", "Hand-over sheet (one page)", "Hoja de entrega (una página)"},
        {"handover_mount",
         "In tolerance is said of the mount, never of the vehicle. This squares the mount; it is "
         "not the maker's electronic calibration.",
         "En tolerancia se dice del soporte, nunca del vehículo. Esto alinea el soporte; no es la "
         "calibración electrónica del fabricante."},
        {"photos_of", "Photos of", "Fotos del"},
        {"where_it_points", "Where it pointed", "Hacia dónde apuntaba"},
        {"turned_after", "Turned after it", "Lo que se giró después"},
        {"sign_technician", "Technician's signature", "Firma del técnico"},
        {"sign_date", "Date", "Fecha"},
        {"print", "Print", "Imprimir"},
        // review
        {"review_title", "Review", "Revisión"},
        {"review_list", "Jobs to review", "Trabajos por revisar"},
        {"review_state", "Review", "Revisión"},
        {"review_not_stored", "not stored yet", "sin guardar todavía"},
        {"review_waiting", "waiting", "en espera"},
        {"review_accepted", "accepted", "aceptado"},
        {"review_returned", "returned", "devuelto"},
        {"review_changed", "changed since then", "cambió desde entonces"},
        {"review_not_done", "This job is not DONE. To accept it, give a reason.",
         "Este trabajo no está TERMINADO. Para aceptarlo, escriba un motivo."},
        {"review_other",
         "The job, or a file it stands on, changed since this page was shown. Nothing was signed. "
         "Look again.",
         "El trabajo, o un archivo en que se basa, cambió desde que se mostró esta página. No se "
         "firmó nada. Mire otra vez."},
        {"order_twice", "Two folders have this work order", "Dos carpetas tienen esta orden"},
        {"order_twice_words",
         "Nothing is stored or signed. Give one of them another work order on its sheet.",
         "No se guarda ni se firma nada. Ponga otra orden en la hoja de una de ellas."},
        {"returned_heading", "RETURNED", "DEVUELTO"},
        {"send_again", "Send it to the reviewer again", "Enviarlo otra vez al revisor"},
        {"send_words", "Do first what the reviewer asks for. Then send the job again.",
         "Haga primero lo que pide el revisor. Después envíe el trabajo otra vez."},
        {"send_unchanged",
         "Nothing was changed since the job was returned. Do what the reviewer asks for first.",
         "Nada cambió desde que se devolvió el trabajo. Haga primero lo que pide el revisor."},
        {"sent_words", "Sent. The job waits for its reviewer.",
         "Enviado. El trabajo espera a su revisor."},
        {"reviewer_code", "Your code, as reviewer (no name)", "Su código de revisor (sin nombre)"},
        {"review_reason", "Reason (needed to return it, or to accept what is not DONE)",
         "Motivo (necesario para devolverlo, o para aceptar lo que no está TERMINADO)"},
        {"accept", "Accept this job", "Aceptar este trabajo"},
        {"return_job", "Return it to the technician", "Devolverlo al técnico"},
        // get ready
        {"caution", "Before you touch it", "Antes de tocarlo"},
        {"caution_vehicle",
         "Vehicle parked, wheels chocked, engine off, key out. Hot parts: let them cool. Keep "
         "fingers out of pinch points.",
         "Vehículo estacionado, ruedas calzadas, motor apagado, llave fuera. Piezas calientes: "
         "deje que se enfríen. Cuidado con los dedos."},
        {"caution_cab", "Nobody is in the cab while somebody is at the bumper or below the truck.",
         "Nadie está en la cabina mientras alguien trabaja en la defensa o debajo del camión."},
        {"caution_phone", "Tether the phone and its cradle: they must not fall.",
         "Asegure con un cordón el teléfono y su base: no deben caerse."},
        {"caution_not_calibration",
         "This squares the mount. It is not the maker's electronic calibration.",
         "Esto alinea el soporte. No es la calibración electrónica del fabricante."},
        {"loosen_words", "Loosen the lock before the first turn.",
         "Afloje el bloqueo antes de la primera vuelta."},
        {"ride_height_words",
         "Air suspension bleeds down with the engine off: it is asked again before as left.",
         "La suspensión de aire baja con el motor apagado: se pregunta otra vez antes de "
         "terminar."},
        {"codes_saved_words",
         "Put battery support on while codes are read: a low battery sets codes of its own.",
         "Conecte un apoyo de batería al leer los códigos: una batería baja crea códigos nuevos."},
        {"refit_words",
         "Bumper and grille are refitted before the drive; nothing touches the mount.",
         "Antes de la prueba, la defensa y la parrilla están montadas; nada toca el soporte."},
        {"ride_height_left_words",
         "Air suspension bleeds down with the engine off. Look at the ride height again now.",
         "La suspensión de aire baja con el motor apagado. Mire ahora otra vez la altura de "
         "marcha."},
        {"lock_button_unsure", "Locked, but the ride height is not right or was not looked at",
         "Bloqueados, pero la altura de marcha no es correcta o no se miró"},
        {"caution_laser", "Never look into the laser, nor at it in mirrors or chrome.",
         "Nunca mire al láser, ni reflejado en espejos o cromados."},
        {"caution_bracket", "A bent bracket is replaced, not screwed straight.",
         "Un soporte doblado se reemplaza, no se endereza con los tornillos."},
        {"caution_maker",
         "The vehicle maker's service information decides, tolerances included, and qualified "
         "people do the work. Driver assistance may not work as it should until the job is proved.",
         "Manda la información de servicio del fabricante, también en las tolerancias, y el "
         "trabajo lo hacen personas calificadas. La asistencia al conductor puede fallar hasta que "
         "el trabajo esté comprobado."},
        {"level_ground", "The truck stands on level ground", "El camión está en suelo nivelado"},
        {"tyres", "Tyre pressures are right", "La presión de las llantas es correcta"},
        {"ride_height", "Ride height is right, load as usual",
         "La altura de marcha es correcta, carga usual"},
        {"bracket_sound", "The bracket is sound, not bent", "El soporte está sano, sin doblar"},
        {"face_clean", "The sensor's face is clean and undamaged",
         "La cara del sensor está limpia y sin daños"},
        {"codes_saved", "Fault codes are read and saved", "Los códigos de falla están guardados"},
        {"reason", "If not: why", "Si no: por qué"},
        // one thing on a screen
        {"of", "of", "de"},
        {"steps", "Steps", "Pasos"},
        {"back", "Back", "Atrás"},
        {"all_entries", "All entries", "Todo lo anotado"},
        {"go_on", "Go on", "Seguir"},
        {"from_the_start", "Go through it again", "Repasar desde el principio"},
        {"skip", "Not measured: go on", "Sin medir: seguir"},
        {"change", "Change something", "Cambiar algo"},
        {"chosen", "chosen", "elegido"},
        {"more", "more", "más"},
        {"less", "less", "menos"},
        {"yes_so", "Yes, it is so", "Sí, así es"},
        {"no_so", "No", "No"},
        {"save_written", "Save what is written", "Guardar lo escrito"},
        {"other_day", "Another day", "Otro día"},
        {"other_answer", "Something else", "Otra respuesta"},
        {"usually", "is usually between", "suele estar entre"},
        {"usually_to", "and", "y"},
        {"usually_check", "Look at the tape again: number, unit, side.",
         "Mire otra vez la cinta: número, unidad, lado."},
        {"sure_button", "I looked again: it is so", "Miré otra vez: así es"},
        {"remembered_words", "Check each line. It stood so in job",
         "Revise cada línea. Así estaba en el trabajo"},
        {"remembered_yes", "I checked: it still stands so", "Lo revisé: sigue así"},
        {"remembered_no", "No: I measure it now", "No: lo mido ahora"},
        {"as_before", "As last time in this bay?", "¿Como la última vez en este puesto?"},
        {"as_before_words",
         "Only what belongs to floor and board. Line, offsets, slope and mount height are this "
         "truck's own: they are measured now.",
         "Solo lo que es del piso y de la tabla. La línea, las distancias a ella, la pendiente y "
         "la altura del soporte son de este camión: se miden ahora."},
        {"new_rest", "Check and begin", "Revisar y empezar"},
        {"heights", "Heights above the floor below", "Alturas sobre el piso de abajo"},
        {"board_place", "Board, line and tapes", "Tablero, línea y cintas"},
        {"points", "Reference points on the bumper", "Puntos de referencia en la defensa"},
        {"face_display", "or: what the level shows on the upright face, as 89.4",
         "o: lo que muestra el nivel en la cara vertical, como 89.4"},
        {"two_ways", "is given in two ways; leave one of them empty",
         "está de dos maneras; deje una vacía"},
        {"pass", "Both tapes, one pass", "Las dos cintas, una pasada"},
        {"reading_words",
         "What the diagnostic tool shows as misalignment, with its sign. It may be left out.",
         "Lo que el escáner muestra como desalineación, con su signo. Se puede omitir."},
        {"reading", "The sensor's own reading", "La lectura del propio sensor"},
        {"reading_before", "Sensor's reading before work", "Lectura del sensor antes del trabajo"},
        {"reading_after", "Sensor's reading after the drive",
         "Lectura del sensor después de la prueba"},
        {"reading_plus", "plus +", "más +"},
        {"reading_minus", "minus \u2212", "menos \u2212"},
        {"finish_done", "Done", "Hecho"},
        {"finish_today", "Driven today", "Se manejó hoy"},
        {"not_yet", "Not yet", "Todavía no"},
        {"not_asked", "The maker does not ask for it", "El fabricante no la pide"},
        {"no_codes", "No codes", "Sin códigos"},
        {"floor_sides", "Rectangle on the floor, its sides", "Rectángulo en el piso, sus lados"},
        {"floor_diagonals", "Both its diagonals, equal", "Sus dos diagonales, iguales"},
        {"floor_usual", "As this bay is planned:", "Según el plano de este puesto:"},
        {"floor_steps", "Step by step, with the drawing's numbers",
         "Paso a paso, con los números del plano"},
        {"floor_alt", "Floor layout of this bay with the lengths to tape",
         "Plano del piso de este puesto con las medidas"},
        {"floor_large", "Open the drawing large", "Abrir el plano en grande"},
        {"picture_from_above", "seen from above, as you face the truck",
         "visto desde arriba, de frente al camión"},
        {"picture_from_side", "seen from the side", "visto de lado"},
        {"picture_left", "truck's LEFT \u25b6", "IZQ. del camión \u25b6"},
        {"picture_right", "\u25c0 truck's RIGHT", "\u25c0 DER. del camión"},
        {"picture_line", "line of the rails", "línea de los largueros"},
        {"picture_laser", "laser's line", "línea del láser"},
        {"picture_truck", "truck", "camión"},
        {"picture_level", "level", "nivel"},
        // board
        {"board_words",
         "Board on the line of the frame rails, TOP up, square to the truck. Left and right are "
         "the truck's own, as seated in the cab. Leave empty what you did not measure.",
         "Tablero sobre la línea de los largueros, TOP arriba, de frente al camión. Izquierda y "
         "derecha son las del camión, sentado en la cabina. Deje vacío lo que no midió."},
        {"line_base", "Line of the rails: distance between the plumb marks",
         "Línea de los largueros: distancia entre las marcas de plomada"},
        {"target_left", "Board's centre off the line", "Centro del tablero fuera de la línea"},
        {"mount_left", "Mount's centre off the line", "Centro del soporte fuera de la línea"},
        {"left", "to the left", "a la izquierda"},
        {"right", "to the right", "a la derecha"},
        {"target_height", "Board's centre above the floor", "Centro del tablero sobre el piso"},
        {"mount_height", "Mount's centre above the floor", "Centro del soporte sobre el piso"},
        {"rail_zero", "Was the level zeroed on the frame rail?",
         "¿El nivel se puso a cero en el larguero?"},
        {"rail_zero_words",
         "Zero it on the clean rail near the mount. Slope, leaning and face are all read from it.",
         "Póngalo a cero en el larguero limpio, cerca del soporte. De ahí salen pendiente, "
         "inclinación y cara."},
        {"rail_zeroed", "Yes, zeroed on the rail", "Sí, puesto a cero en el larguero"},
        {"rail_not_zeroed", "No, not zeroed", "No, sin poner a cero"},
        {"floor_rise", "Floor slope ahead, against the rails",
         "Pendiente del piso adelante, respecto a los largueros"},
        {"rises", "rises ahead", "sube adelante"},
        {"falls", "falls ahead", "baja adelante"},
        {"target_lean_back", "Board leaning (level on its face)",
         "Tablero inclinado (nivel en su cara)"},
        {"top_away", "top away from the truck", "arriba se aleja del camión"},
        {"top_near", "top toward the truck", "arriba se acerca al camión"},
        {"target_roll_clockwise", "Board tilted (level along it), seen from the truck",
         "Tablero ladeado (nivel a lo largo), visto desde el camión"},
        {"clockwise", "clockwise", "en sentido horario"},
        {"counter-clockwise", "counter-clockwise", "en sentido antihorario"},
        {"point", "Where a crossed tape starts", "Dónde empieza una cinta cruzada"},
        {"point_words",
         "Measure it on this truck, from the mount and its line. A hook that is guessed spoils "
         "the check by tapes.",
         "Mídalo en este camión, desde el soporte y su línea. Un gancho supuesto echa a perder la "
         "comprobación con cintas."},
        {"point_ahead",
         "Ahead of or behind the mount's face:", "Delante o detrás de la cara del soporte:"},
        {"ahead_of_face", "ahead", "delante"},
        {"behind_face", "behind", "detrás"},
        {"point_left", "Off the line of the rails:", "Fuera de la línea de los largueros:"},
        {"point_up", "Above the floor:", "Sobre el piso:"},
        {"points_as_before", "Hooks as on this model before?",
         "¿Los ganchos como antes en este modelo?"},
        {"point_first", "needs the place of its hook first",
         "necesita antes el lugar de su gancho"},
        {"tape_from", "Tape from", "Cinta desde"},
        {"tape_to", "to the board's", "hasta del tablero:"},
        {"left edge", "left edge (the truck's left)", "borde izquierdo (del camión)"},
        {"right edge", "right edge (the truck's right)", "borde derecho (del camión)"},
        {"top edge", "top edge", "borde superior"},
        {"bottom edge", "bottom edge", "borde inferior"},
        {"centre", "centre", "centro"},
        // photos
        {"photos_words",
         "The phone's screen faces the truck: use the timer or a remote release; a second device "
         "may carry this page. No zoom. Lift the phone off and set it down anew for every photo.",
         "La pantalla mira al camión: use el temporizador o un disparador; un segundo equipo puede "
         "llevar esta página. Sin zoom. Quite el teléfono y vuelva a ponerlo para cada foto."},
        {"photos_several",
         "Several taken before? Choose them all at once: each tells its time, and whether it stood "
         "upright.",
         "¿Varias ya tomadas? Elíjalas todas juntas: cada una dice su hora y si estaba derecha."},
        {"next_upright", "Next photo: phone UPRIGHT in the cradle",
         "Próxima foto: teléfono DERECHO en la base"},
        {"next_inverted", "Next photo: cradle turned, phone UPSIDE DOWN",
         "Próxima foto: base girada, teléfono INVERTIDO"},
        {"next_more", "Another photo, if you like", "Otra foto, si quiere"},
        {"to_answer", "To the answer", "Al resultado"},
        {"looking", "Looking at the photo.", "Revisando la foto."},
        {"wrong_way", "The phone stood the other way than you said. The photo shows it",
         "El teléfono estaba al revés de lo que indicó. La foto lo muestra"},
        {"it_was", "Correct it: it was", "Corregir: estaba"},
        {"photo_doubtful", "BOARD FOUND, BUT LOOK HERE", "TABLERO ENCONTRADO, PERO MIRE AQUÍ"},
        {"level_STOP", "STOP", "ALTO"},
        {"level_WARNING", "WARNING", "ATENCIÓN"},
        {"level_NOTE", "NOTE", "NOTA"},
        {"photos_same", "Neither truck nor board was moved since the last measurement.",
         "Ni el camión ni el tablero se movieron desde la última medición."},
        {"moved_button", "Truck or board was moved: set up again",
         "Se movió el camión o el tablero: colocar de nuevo"},
        {"phone_stands", "How the phone stands", "Cómo está el teléfono"},
        {"upright", "upright", "derecho"},
        {"inverted", "upside down", "invertido"},
        {"read_from_photo", "read it from the photo", "leerlo de la foto"},
        {"photo_file", "The photo, or several", "La foto, o varias"},
        {"send_photo", "Send", "Enviar"},
        {"photos_here", "Earlier photos of this measurement", "Fotos anteriores de esta medición"},
        {"photo_found", "BOARD FOUND", "TABLERO ENCONTRADO"},
        {"photo_missing", "BOARD NOT FOUND", "TABLERO NO ENCONTRADO"},
        {"photo_blurred", "BLURRED", "BORROSA"},
        {"photo_copy", "NOT THE ORIGINAL PHOTO", "NO ES LA FOTO ORIGINAL"},
        {"photo_other", "NOT THE PHONE OR PHOTO SIZE OF THIS JOB",
         "NO ES EL TELÉFONO O TAMAÑO DE FOTO DE ESTE TRABAJO"},
        {"photo_waits", "looking at it now", "se está revisando"},
        {"take_out", "Take this photo out", "Quitar esta foto"},
        {"photo_again", "This photo is already here. Take another one.",
         "Esta foto ya está aquí. Tome otra."},
        {"photo_other_job", "This photo is part of another job. Take a new one of this vehicle.",
         "Esta foto es de otro trabajo. Tome una nueva de este vehículo."},
        {"photo_kind",
         "That is no JPEG, HEIC or PNG photo. Send the original from the phone's camera.",
         "Eso no es una foto JPEG, HEIC o PNG. Envíe la original de la cámara del teléfono."},
        {"photo_large",
         "The file is empty or larger than 40 MiB. Send one photo as the phone made it.",
         "El archivo está vacío o pasa de 40 MiB. Envíe una foto tal como salió del teléfono."},
        {"photo_count", "This job holds 60 photos already. Take some out first.",
         "Este trabajo ya tiene 60 fotos. Quite algunas primero."},
        {"photo_lost", "The photo did not arrive whole. Send it again.",
         "La foto no llegó completa. Envíela de nuevo."},
        {"disk_full", "The shop's computer cannot save it. Is its disk full? Tell the shop lead.",
         "La computadora del taller no puede guardarla. ¿Disco lleno? Avise al jefe de taller."},
        {"sending", "Sending", "Enviando"},
        {"waiting_network", "No network. It goes on by itself where it stopped.",
         "Sin red. Sigue solo donde se quedó."},
        {"look_again", "Look again", "Mirar de nuevo"},
        {"photo_alt", "The photo with what was found drawn on it",
         "La foto con lo encontrado dibujado encima"},
        // tape and level
        {"tape_words",
         "From each reference point forward to the laser's line. Take each pass anew.",
         "Desde cada punto de referencia hasta la línea del láser. Repita cada pasada completa."},
        {"left_point", "Left reference point from the sensor's centreline",
         "Punto izquierdo desde la línea central del sensor"},
        {"right_point", "Right reference point from the sensor's centreline",
         "Punto derecho desde la línea central del sensor"},
        {"pass_left", "left tape, pass", "cinta izquierda, pasada"},
        {"pass_right", "right tape, pass", "cinta derecha, pasada"},
        {"face_level", "Level on the face, reading", "Nivel en la cara, lectura"},
        {"nose_up", "nose up", "nariz arriba"},
        {"nose_down", "nose down", "nariz abajo"},
        {"passes_differ", "So far the passes differ by", "Hasta ahora las pasadas difieren en"},
        // answer
        {"working", "Measuring. This takes a few seconds.", "Midiendo. Tarda unos segundos."},
        {"crowded", "Many jobs are being measured. Look again in a minute.",
         "Se están midiendo muchos trabajos. Mire de nuevo en un minuto."},
        {"nothing_yet", "No answer yet", "Todavía no hay resultado"},
        {"measure_first", "Nothing was measured yet. Take the photos first.",
         "Todavía no se midió nada. Tome primero las fotos."},
        {"yaw", "Side-to-side aim", "Orientación lateral"},
        {"pitch", "Up-down aim", "Orientación vertical"},
        {"should_point", "Should point", "Debe apuntar"},
        {"settles", "What would settle it", "Lo que lo decidiría"},
        {"responses", "What the turns did", "Lo que hicieron las vueltas"},
        {"screws", "The screws", "Los tornillos"},
        {"screw", "{} screw", "tornillo {}"},
        {"no_turn", "no turn", "no girar"},
        {"turn_one", "turn", "vuelta"},
        {"turn_many", "turns", "vueltas"},
        {"turned_title", "What was turned", "Lo que se giró"},
        {"turned_as_told", "Turned as told", "Girado como se indica"},
        {"turned_otherwise", "Turned otherwise", "Girado de otra manera"},
        {"save_turned", "Save what was turned", "Guardar lo que se giró"},
        {"lock_title", "Lock the screws", "Bloquear los tornillos"},
        {"lock_words",
         "Lock the screws now, at the torque that the maker gives; locking can move the face. Then "
         "take both positions once more, as left.",
         "Bloquee ahora los tornillos, con el par que indica el fabricante; al bloquear se puede "
         "mover la cara. Después tome otra vez las dos posiciones, como queda."},
        {"lock_button", "They are locked, ride height is right",
         "Están bloqueados, la altura de marcha es correcta"},
        {"advice", "What to watch", "Qué cuidar"},
        {"found", "What was found", "Lo que se encontró"},
        {"agreement", "Photos and tape", "Fotos y cinta"},
        {"open_items", "Still open", "Pendiente"},
        {"set_aside", "Photos set aside", "Fotos apartadas"},
        {"set_aside_words", "The answer does not use them. Why stands below and beside each photo.",
         "El resultado no las usa. El motivo está abajo y junto a cada foto."},
        {"to_photos", "Back to the photos", "Volver a las fotos"},
        {"from_front", "mount as you face the truck", "soporte visto de frente al camión"},
        // finish
        {"finish_words",
         "What is not done yet stays open on the hand-over page. Come back any day.",
         "Lo que falta queda pendiente en la hoja de entrega. Vuelva cualquier día."},
        {"codes_cleared", "Fault codes are cleared", "Los códigos de falla están borrados"},
        {"electronic_calibration", "The maker's electronic calibration",
         "Calibración electrónica del fabricante"},
        {"drive", "Drive after the repair", "Prueba de manejo después de la reparación"},
        {"codes_after", "Fault codes after the drive", "Códigos de falla después de la prueba"},
        // shop
        {"shop_title", "The shop", "El taller"},
        {"pair_device", "Connect a device", "Conectar un equipo"},
        {"pair_device_words",
         "Point the device's camera at the code, or type address and code. It works once.",
         "Apunte la cámara del equipo al código, o escriba la dirección y el código. Sirve una "
         "vez."},
        {"role", "It is for", "Es para"},
        {"technician_role", "a technician", "un técnico"},
        {"reviewer_role", "a reviewer (reads and signs)", "un revisor (lee y firma)"},
        {"shop_role", "the shop lead", "el jefe de taller"},
        {"new_code", "Show a new code", "Mostrar un código nuevo"},
        {"qr_title", "Code to connect a device", "Código para conectar un equipo"},
        {"equipment", "Set up in this shop", "Lo que hay en este taller"},
        {"checked", "checked", "revisado"},
        {"check_by", "next check by", "próxima revisión antes del"},
        {"check_now", "check it now", "revíselo ahora"},
        {"document_by", "look for a newer one by", "busque uno más nuevo antes del"},
        {"document_now", "look for the maker's document now",
         "busque ahora el documento del fabricante"},
        {"not_reachable",
         "Only this computer can reach the page. Start it with --listen and this computer's "
         "address in the bay's network, then show a new code.",
         "Solo esta computadora alcanza la página. Iníciela con --listen y la dirección de esta "
         "computadora en la red del taller, y muestre un código nuevo."},
        {"from_document", "from", "de"},
        {"no_document", "no source: limits unproven", "sin fuente: límites sin probar"},
        {"no_date", "no date", "sin fecha"},
        {"none_yet", "none yet", "todavía ninguno"},
        {"equipment_words",
         "These stand in the shop's file on the shop's computer. What is added there shows here at "
         "once.",
         "Están en el archivo del taller, en la computadora del taller. Lo que se agrega ahí "
         "aparece aquí enseguida."},
        {"shop_trouble",
         "The shop's file was changed and cannot be read now. What stood there before is still "
         "used. Mend it:",
         "El archivo del taller cambió y ahora no se puede leer. Se sigue usando lo que había "
         "antes. Corríjalo:"},
        {"no_bay_title", "No bay is set up yet", "Todavía no hay ningún puesto"},
        {"no_bay_words",
         "A job is begun in a bay. The shop lead writes the bay's file and names it under bays in "
         "the shop's file. Then open this page again.",
         "Un trabajo se empieza en un puesto. El jefe de taller escribe el archivo del puesto y lo "
         "nombra en la lista bays del archivo del taller. Después abra esta página de nuevo."},
    };
    return list;
}

namespace {

std::string trimmed(const std::string& text) {
    const auto begin = text.find_first_not_of(" \t");
    const auto end = text.find_last_not_of(" \t");
    return begin == std::string::npos ? "" : text.substr(begin, end - begin + 1);
}

/// One "es-MX;q=0.8": its tag and weight; a weight that cannot be read is none.
std::pair<std::string, double> weighted(const std::string& part) {
    const auto semicolon = part.find(';');
    const std::string tag = trimmed(part.substr(0, semicolon));
    const auto q = semicolon == std::string::npos ? semicolon : part.find("q=", semicolon);
    if (q == std::string::npos) {
        return {tag, 1};
    }
    const std::string digits = part.substr(q + 2, 5);
    const bool plain = digits.find_first_not_of("0123456789. ") == std::string::npos;
    return {tag, plain && !trimmed(digits).empty() && digits != "." ? std::stod("0" + digits) : 0};
}

}  // namespace

Language chosen_language(const std::string& accept_language) {
    Language language = Language::english;
    double best = 0;
    const std::string text = accept_language.substr(0, 500);
    for (std::size_t begin = 0; begin <= text.size();) {
        const auto end = std::min(text.find(',', begin), text.size());
        const auto [tag, weight] = weighted(text.substr(begin, end - begin));
        const std::string primary = tag.substr(0, tag.find('-'));
        if (weight > best && (primary == "en" || primary == "es")) {
            best = weight;
            language = primary == "es" ? Language::spanish : Language::english;
        }
        begin = end + 1;
    }
    return language;
}

const char* language_tag(Language language) { return language == Language::spanish ? "es" : "en"; }

const std::string& message(Language language, const std::string& key) {
    static const auto by_key = [] {
        std::map<std::string, const Message*> map;
        for (const auto& one : messages()) {
            map[one.key] = &one;
        }
        return map;
    }();
    const Message& found = *by_key.at(key);
    return language == Language::spanish ? found.spanish : found.english;
}

}  // namespace squaresight::bay
