#include "bay/phrases.h"

namespace squaresight::bay {

const std::vector<BookPhrase>& book_fragments() {
    static const std::vector<BookPhrase> list{
        // where it points
        {"{} to the left", "{} a la izquierda"},
        {"{} to the right", "{} a la derecha"},
        {"straight ahead", "derecho al frente"},
        {"side-to-side aim unknown", "orientación lateral desconocida"},
        {"up-down aim unknown", "orientación vertical desconocida"},
        {"nose level", "nariz a nivel"},
        {"nose {} up", "nariz {} hacia arriba"},
        {"nose {} down", "nariz {} hacia abajo"},
        {"{} up", "{} hacia arriba"},
        {"{} down", "{} hacia abajo"},
        {"straight ahead, limit {} either way", "derecho al frente, límite {} a cada lado"},
        {"nose level, limit {} either way", "nariz a nivel, límite {} a cada lado"},
        {"{} rising ahead", "{} subiendo hacia adelante"},
        {"{} falling ahead", "{} bajando hacia adelante"},
        {"{} top away from the truck", "{} con la parte de arriba lejos del camión"},
        {"{} top toward the truck", "{} con la parte de arriba hacia el camión"},
        {"{} nose up", "{} nariz arriba"},
        {"{} nose down", "{} nariz abajo"},
        {"{} clockwise", "{} en sentido horario"},
        {"{} counter-clockwise", "{} en sentido antihorario"},
        {"under 1/64 in", "menos de 1/64 in"},
        {"{} to the left, limit {} either way", "{} a la izquierda, límite {} a cada lado"},
        {"{} to the right, limit {} either way", "{} a la derecha, límite {} a cada lado"},
        {"nose {} up, limit {} either way", "nariz {} hacia arriba, límite {} a cada lado"},
        {"nose {} down, limit {} either way", "nariz {} hacia abajo, límite {} a cada lado"},
        {"straight ahead, limit {} either way (common practice, no source)",
         "derecho al frente, límite {} a cada lado (práctica común, sin fuente)"},
        {"nose level, limit {} either way (common practice, no source)",
         "nariz a nivel, límite {} a cada lado (práctica común, sin fuente)"},
        {"{} to the left, limit {} either way (common practice, no source)",
         "{} a la izquierda, límite {} a cada lado (práctica común, sin fuente)"},
        {"{} to the right, limit {} either way (common practice, no source)",
         "{} a la derecha, límite {} a cada lado (práctica común, sin fuente)"},
        {"nose {} up, limit {} either way (common practice, no source)",
         "nariz {} hacia arriba, límite {} a cada lado (práctica común, sin fuente)"},
        {"nose {} down, limit {} either way (common practice, no source)",
         "nariz {} hacia abajo, límite {} a cada lado (práctica común, sin fuente)"},
        {"give or take {} (at least 95 %)", "con margen de {} (al menos 95 %)"},
        {"give or take less than 0.01 deg", "con margen menor de 0.01 deg"},
        {"give or take {}", "con margen de {}"},
        {"less than {}", "menos de {}"},
        {"more than {}", "más de {}"},
        {"unknown", "desconocido"},
        {"side-to-side aim", "orientación lateral"},
        {"up-down aim", "orientación vertical"},
        {"both aims", "las dos orientaciones"},
        {"stop", "ALTO"},
        {"do this", "HAGA ESTO"},
        {"not ready", "NO ESTÁ LISTO"},
        {"in tolerance", "en tolerancia"},
        {"out of tolerance", "fuera de tolerancia"},
        {"too close to call", "demasiado justo para decidir"},
        {"no verdict", "sin veredicto"},
        {"not sure: under a STOP do not act on this number",
         "no es seguro: con un ALTO no actúe según este número"},
        {"very sure: {} that it is outside the limit",
         "muy seguro: {} de que está fuera del límite"},
        {"very sure: {} that it is within the limit",
         "muy seguro: {} de que está dentro del límite"},
        {"not sure: {} that it is outside the limit",
         "no es seguro: {} de que está fuera del límite"},
        {"not sure: {} that it is within the limit",
         "no es seguro: {} de que está dentro del límite"},
        {"sure: {} that it is outside the limit", "seguro: {} de que está fuera del límite"},
        {"sure: {} that it is within the limit", "seguro: {} de que está dentro del límite"},
        // turns
        {"the {} screw {}", "el tornillo «{=}» {}"},
        {"{} turns clockwise", "{} vueltas en sentido horario"},
        {"{} turns counter-clockwise", "{} vueltas en sentido antihorario"},
        {"{} turn clockwise", "{} vuelta en sentido horario"},
        {"{} turn counter-clockwise", "{} vuelta en sentido antihorario"},
        {"no turn", "ninguna vuelta"},
        {"turns unknown", "vueltas desconocidas"},
        {"{} to the left ({}) and {} up ({})", "{} a la izquierda ({}) y {} hacia arriba ({})"},
        {"{} to the left ({}) and {} down ({})", "{} a la izquierda ({}) y {} hacia abajo ({})"},
        {"{} to the right ({}) and {} up ({})", "{} a la derecha ({}) y {} hacia arriba ({})"},
        {"{} to the right ({}) and {} down ({})", "{} a la derecha ({}) y {} hacia abajo ({})"},
        // headings and stages
        {"DO THIS", "HAGA ESTO"},
        {"STOP", "ALTO"},
        {"NOT READY", "NO ESTÁ LISTO"},
        {"LOCK THE SCREWS", "BLOQUEE LOS TORNILLOS"},
        {"DONE", "TERMINADO"},
        {"First", "Primero"},
        {"as found", "como llegó"},
        {"as left", "como queda"},
        {"as-found", "como llegó"},
        {"as-left", "como queda"},
        {"adjusted", "después de girar"},
        {"after turn {}", "después del giro {}"},
        {"adjusted {}", "giro {}"},
        // on drawings
        {"not yet", "todavía no"},
        {"turn", "girar"},
        {"turn nothing", "no girar nada"},
        {"stop", "alto"},
        {"leave", "dejar"},
        {"pivot", "pivote"},
        {"truck\u2019s right", "der. del camión"},
        {"truck\u2019s left", "izq. del camión"},
        {"mount seen from the front", "soporte visto de frente"},
        // the floor layout
        {"Floor layout: {}", "Plano del piso: {=}"},
        {"Scale 1 : {}", "Escala 1 : {}"},
        {"\u25C0 truck's RIGHT", "\u25C0 DER. del camión"},
        {"truck's LEFT \u25B6", "IZQ. del camión \u25B6"},
        {"Line of the frame rails", "Línea de los largueros"},
        {"Square to the string", "A escuadra con el hilo"},
        {"Board", "Panel"},
        {"Crossed tapes", "Cintas cruzadas"},
        {"Tape-and-level points", "Puntos de cinta y nivel"},
        {"string {}", "hilo {}"},
        {"on the string", "sobre el hilo"},
        {"{} to the truck's LEFT of the string", "{} a la IZQUIERDA del camión desde el hilo"},
        {"{} to the truck's RIGHT of the string", "{} a la DERECHA del camión desde el hilo"},
        {"centre", "centro"},
        {"board's centre", "centro del panel"},
        {"sensor's face", "cara del sensor"},
        {"Heights, seen from the truck's left side",
         "Alturas, vistas desde el lado izquierdo del camión"},
        // open items
        {"lock the screws and measure as left", "bloquear los tornillos y medir como queda"},
        {"lock the screws", "bloquear los tornillos"},
        {"clear the codes", "borrar los códigos"},
        {"clear the codes (written: {})", "borrar los códigos (anotado: {})"},
        {"the maker's electronic calibration where asked for",
         "la calibración electrónica del fabricante donde se pida"},
        {"the maker's electronic calibration where asked for (written: {})",
         "la calibración electrónica del fabricante donde se pida (anotado: {})"},
        {"the drive", "la prueba de manejo"},
        {"the drive (written: {})", "la prueba de manejo (anotado: {})"},
        {"read the codes after the drive", "leer los códigos después de la prueba"},
        {"read the codes after the drive (written: {})",
         "leer los códigos después de la prueba (anotado: {})"},
        {"note the sensor's own reading after the drive",
         "anotar la lectura del propio sensor después de la prueba"},
        {"faults still active after the drive (written: {})",
         "fallas aún activas después de la prueba (anotado: {})"},
        {"the sensor reads {} after the drive, limit {}",
         "el sensor lee {} después de la prueba, límite {}"},
        {"put right: {}", "corregir: {}"},
        {"level ground (written: {})", "suelo nivelado (anotado: {=})"},
        {"tyres (written: {})", "llantas (anotado: {=})"},
        {"ride height (written: {})", "altura de marcha (anotado: {=})"},
        {"ride height as left", "altura de marcha como queda"},
        {"ride height as left (written: {})", "altura de marcha como queda (anotado: {=})"},
        {"bracket sound (written: {})", "ménsula sana (anotado: {=})"},
        {"face clean (written: {})", "cara limpia (anotado: {=})"},
        {"codes saved (written: {})", "códigos guardados (anotado: {=})"},
        {"level ground", "suelo nivelado"},
        {"tyres", "llantas"},
        {"ride height", "altura de marcha"},
        {"bracket sound", "ménsula sana"},
        {"face clean", "cara limpia"},
        {"codes saved", "códigos guardados"},
        {"level ground: {}", "suelo nivelado: {}"},
        {"tyres: {}", "llantas: {}"},
        {"ride height before as left: {}", "altura de marcha antes de terminar: {}"},
        {"ride height: {}", "altura de marcha: {}"},
        {"bracket sound: {}", "ménsula sana: {}"},
        {"face clean: {}", "cara limpia: {}"},
        {"codes saved: {}", "códigos guardados: {}"},
        {"not recorded", "sin anotar"},
        {"no", "no"},
        // readings
        {"line of the rails", "línea de los largueros"},
        {"distance to the board", "distancia al panel"},
        {"board left or right of the line", "panel a la izquierda o derecha de la línea"},
        {"mount left or right of the line", "soporte a la izquierda o derecha de la línea"},
        {"height of the board", "altura del panel"},
        {"height of the mount", "altura del soporte"},
        {"floor slope ahead", "pendiente del piso adelante"},
        {"board leaning", "panel inclinado"},
        {"board turned", "panel girado"},
        {"board tilted", "panel ladeado"},
        {"zero of the level on the rail", "cero del nivel en el larguero"},
        {"tape {} to {}", "cinta de «{=}» a {}"},
        {"passes, {}", "pasadas, {}"},
        {"face level, {}", "nivel en la cara, {}"},
        {"left edge", "borde izquierdo"},
        {"right edge", "borde derecho"},
        {"line", "línea"},
        {"distance", "distancia"},
        {"{} (take photos with the phone turned upside down too)",
         "{} (tome también fotos con el teléfono invertido)"},
        {"line (plumb marks farther apart on the rails, or a longer string)",
         "línea (marcas de plomada más separadas en los largueros, o un hilo más largo)"},
        {"{} (take more photos, lifting the phone and setting it down each time)",
         "{} (tome más fotos, quitando y poniendo el teléfono cada vez)"},
        {"{} (measure it again, closer)", "{} (mídalo otra vez, con más cuidado)"},
        {"cradle seating", "asiento de la base"},
        {"seating of one way up", "asiento de una posición"},
        {"cradle sag", "caída de la base"},
        {"cradle's place on the face", "lugar de la base en la cara"},
        {"face form", "forma de la cara"},
        {"rail bow", "curva de los largueros"},
        {"print skew", "descuadre de la impresión"},
        {"phone warming", "calentamiento del teléfono"},
        {"error that corners share", "error común de las esquinas"},
        {"which reading is wrong", "cuál lectura está mal"},
        {"tape-and-level", "cinta y nivel"},
        {"rails' line", "línea de los largueros"},
        {"rail zero", "cero en el larguero"},
        {"twisted frame", "bastidor torcido"},
        {"rail bow (a string along each rail shows it; measure it, or plumb from a longer part)",
         "curva de los largueros (un hilo a lo largo de cada uno la muestra; mídala, o use un "
         "tramo más largo)"},
        {"face form (clean the face, use pads on three points, four rolls of the cradle)",
         "forma de la cara (limpie la cara, apoyos en tres puntos, cuatro giros de la base)"},
        {"seating of one way up (photos at four rolls, a quarter turn apart)",
         "asiento de una posición (fotos en cuatro giros, cada cuarto de vuelta)"},
        {"which reading is wrong (take the named readings again)",
         "cuál lectura está mal (tome otra vez las lecturas nombradas)"},
        {"cradle offset", "desvío de la base"},
        {"stored cradle offset", "desvío guardado de la base"},
        {"lens place in the cradle", "lugar del lente en la base"},
        {"pointing jitter", "temblor de la imagen"},
        {"make", "marca"},
        {"model", "modelo"},
        {"lens", "lente"},
        {"left", "izquierda"},
        {"right", "derecha"},
        {"upper left", "superior izquierda"},
        {"upper right", "superior derecha"},
        {"lower left", "inferior izquierda"},
        {"lower right", "inferior derecha"},
        {"short", "de menos"},
        {"long", "de más"},
        {"behind", "detrás de"},
        {"ahead of", "delante de"},
        {"nearer to", "más cerca de"},
        {"farther from", "más lejos de"},
        {"upright", "derecho"},
        {"inverted", "invertido"},
        {"earlier", "antes"},
        {"no date", "sin fecha"},
        {"on {}", "el {}"},
        {"black", "negro"},
        {"white", "blanco"},
        {"the phone's own record of up", "lo que el teléfono registró como arriba"},
        {"the cradle file and the photos' labels",
         "el archivo de la base y cómo se anotaron las fotos"},
        {"taken with a digital zoom of {}", "tomada con zoom digital de {}"},
        {"taken with a zoom ({})", "tomada con zoom ({})"},
        {"35 mm equivalent {} mm instead of {} mm, through the same lens",
         "equivalente a 35 mm {} mm en vez de {} mm, por el mismo lente"},
        {"make '{}' instead of '{}'", "marca '{=}' en vez de '{=}'"},
        {"model '{}' instead of '{}'", "modelo '{=}' en vez de '{=}'"},
        {"lens '{}' instead of '{}'", "lente '{=}' en vez de '{=}'"},
        {"focal length {} mm instead of {} mm", "distancia focal {} mm en vez de {} mm"},
        {"35 mm equivalent {} mm instead of {} mm", "equivalente a 35 mm {} mm en vez de {} mm"},
        {"the face did not move", "la cara no se movió"},
        {"none of those were made", "no se hizo ninguna"},
        {"the face moved about half as far as it should", "la cara se movió más o menos la mitad"},
        {"the face moved less far than it should", "la cara se movió menos de lo debido"},
        {"about half of those were made", "se hizo más o menos la mitad"},
        {"about half of those of screw '{}' were made",
         "se hizo más o menos la mitad de las del tornillo «{=}»"},
        {"the turns on the job sheet ({})", "las vueltas anotadas en el trabajo ({})"},
        {"'{}' {}, '{}' {}", "«{=}» {}, «{=}» {}"},
        {"screw '{}' does not respond", "el tornillo «{=}» no responde"},
        {"screw '{}' was turned backwards", "el tornillo «{=}» se giró al revés"},
        {"both screws were turned backwards", "los dos tornillos se giraron al revés"},
        {"the screws were taken for each other", "se confundió un tornillo con el otro"},
        {"the turns were not made", "las vueltas no se hicieron"},
        {"half of the turns were made", "se hizo la mitad de las vueltas"},
        {"half of the turns of screw '{}' were made",
         "se hizo la mitad de las vueltas del tornillo «{=}»"},
        // what a unit's error advises
        {"write a length with mm, cm, m, in or ft, such as 5000 mm, 6 1/16 in or 16' 4 1/2\"",
         "escriba una longitud con mm, cm, m, in o ft, como 5000 mm, 6 1/16 in o 16' 4 1/2\""},
        {"write an angle with deg, mrad or arcmin, such as 0.2 deg",
         "escriba un ángulo con deg, mrad o arcmin, como 0.2 deg"},
        {"write turns with their direction, such as 5/8 counter-clockwise",
         "escriba vueltas con su sentido ('clockwise' es horario), como 5/8 counter-clockwise"},
        // photos
        {"the same photo as {}", "la misma foto que {}"},
        {"the same picture as {}, saved again", "la misma imagen que {}, guardada otra vez"},
        {"the picture of {}, turned by an editor and not taken anew",
         "la imagen de {}, girada con un editor y no tomada de nuevo"},
    };
    return list;
}

const std::vector<BookPhrase>& book_sentences() {
    static const std::vector<BookPhrase> list{
        // the first line
        {"Turn {}. Then measure again.", "Gire {}. Después mida otra vez."},
        {"Loosen the locking and turn {}. Then measure again.",
         "Afloje el bloqueo y gire {}. Después mida otra vez."},
        {"Turn nothing: the aim is nearer than 1/8 turn. It is not proven to be within the limit, "
         "so "
         "measure again with less give or take.",
         "No gire nada: la orientación está a menos de 1/8 de vuelta. No está probado que esté "
         "dentro "
         "del límite; mida otra vez con menos margen."},
        {"Do not turn anything: nothing was measured.", "No gire nada: no se midió nada."},
        {"Do not turn anything: ", "No gire nada: "},
        {"The mount is in tolerance and nothing is open: locking, codes, electronic calibration "
         "and "
         "drive are recorded.",
         "El soporte está en tolerancia y no queda nada pendiente: bloqueo, códigos, calibración "
         "electrónica y prueba de manejo están anotados."},
        {"The truck is not on level ground", "El camión no está en suelo nivelado"},
        {"The tyre pressures are not right", "La presión de las llantas no es correcta"},
        {"The ride height is not right", "La altura de marcha no es correcta"},
        {"The ride height was not right as left", "La altura de marcha no era correcta al final"},
        {"The bracket is not sound", "La ménsula no está sana"},
        {"The sensor's face is not clean and undamaged",
         "La cara del sensor no está limpia y sin daños"},
        {"The fault codes were not read and saved",
         "Los códigos de falla no se leyeron ni guardaron"},
        {" (written: {})", " (anotado: {=})"},
        {"Put it right, measure again, and answer it anew.",
         "Corríjalo, mida otra vez y contéstelo de nuevo."},
        {"Replace it before anything is measured; it is not screwed straight. Then answer it "
         "anew.",
         "Reemplácela antes de medir; no se endereza con los tornillos. Después contéstelo de "
         "nuevo."},
        {"Clean it, or have it replaced, before anything is measured. Then answer it anew.",
         "Límpiela o haga que la reemplacen antes de medir. Después contéstelo de nuevo."},
        {"Read and save them before anything is turned, and answer it anew.",
         "Léalos y guárdelos antes de girar, y contéstelo de nuevo."},
        {"The mount is in tolerance: turn nothing.",
         "La orientación está en tolerancia: no gire nada."},
        {"The {} is in tolerance as it is.", "La {} está en tolerancia como está."},
        {"You may leave the {} screw: turning it brings the face nearer to the middle of the "
         "limit.",
         "Puede dejar el tornillo «{=}»: girarlo acerca la cara al centro del límite."},
        {"The {} screw is turned too: without it the other screw's turns would not bring both "
         "angles right.",
         "El tornillo «{=}» se gira también: sin él las vueltas del otro no corrigen los dos "
         "ángulos."},
        {"The sensor reads {}, measured was {}: {} apart, up to {} is to be expected.",
         "El sensor lee {}, se midió {}: difieren {}, se espera hasta {}."},
        {"They agree.", "Concuerdan."},
        {"They do NOT agree.", "NO concuerdan."},
        {"They point to OPPOSITE sides.", "Apuntan a lados OPUESTOS."},
        {"Whether they agree cannot be told.", "No se puede decir si concuerdan."},
        {"For this reading the service table turns the {} screw {}.",
         "Para esta lectura la tabla de servicio gira el tornillo «{=}» {}."},
        {"The sensor reads {}, measured was {}: opposite sides. Check the sign of the reading "
         "against the mount file's sensor_reading before turning.",
         "El sensor lee {}, se midió {}: lados opuestos. Compare el signo de la lectura con "
         "sensor_reading del archivo del soporte antes de girar."},
        {"The sensor reads {}, measured was {}: more apart than the {} to be expected. Read the "
         "sensor again, and check that nothing moved since it was read.",
         "El sensor lee {}, se midió {}: difieren más de los {} esperados. Lea el sensor otra vez "
         "y revise que nada se movió desde entonces."},
        {"After the drive the sensor reads {}, limit {}. Read it again; if it stays so, measure "
         "as left again and follow the maker's service information.",
         "Después de la prueba el sensor lee {}, límite {}. Léalo otra vez; si sigue así, mida "
         "otra vez como queda y siga la información de servicio del fabricante."},
        {"After the drive faults are still active (written: {}). Follow the maker's service "
         "information for them.",
         "Después de la prueba siguen fallas activas (anotado: {=}). Siga la información de "
         "servicio del fabricante."},
        {"mount '{}' states no tolerance; {} deg side to side and {} deg up-down are common "
         "practice, no source; enter the vehicle maker's",
         "el archivo '{=}' no indica tolerancia; {} deg lateral y {} deg vertical son práctica "
         "común, sin fuente; anote la del fabricante"},
        {"The mount states no limits: {} side to side and {} up-down are common practice, no "
         "source.",
         "El archivo del soporte no indica límites: {} lateral y {} vertical son práctica común, "
         "sin fuente."},
        {"The rule is for points 12 in out or more; these are closer.",
         "La regla es para puntos a 12 in o más; estos están más cerca."},
        {"This mount's limit is {}, tighter than the rule: go by the limit.",
         "El límite de este soporte es {}, más estrecho que la regla: siga el límite."},
        {"This mount's limit is {}.", "El límite de este soporte es {}."},
        {"Still open: {}.", "Pendiente: {}."},
        {"The mount is in tolerance: turn nothing. Still open: {}.",
         "El soporte está en tolerancia: no gire nada. Pendiente: {}."},
        {"side-to-side aim and up-down aim were not both measured. Measure again.",
         "no se midieron las dos orientaciones, lateral y vertical. Mida otra vez."},
        {"Take again: {}. It is wrong, and nothing is proven until then.",
         "Tome otra vez: {}. Está mal, y nada queda probado hasta entonces."},
        {"Take again: {}. One of them is wrong, and nothing is proven until then.",
         "Tome otra vez: {}. Una está mal, y nada queda probado hasta entonces."},
        {"Nothing checks: {}. Tape again.", "Nada comprueba: {}. Mida otra vez."},
        {"An error of {} or more in the {} would have shown.",
         "Un error de {} o más en la {} se habría visto."},
        {"Both methods share, and cannot show: {}.",
         "Los dos métodos comparten, y no pueden mostrar: {}."},
        {"photos and tape disagree. Measure both again.",
         "las fotos y la cinta no coinciden. Mida otra vez con las dos."},
        {"photos and tape disagree.", "las fotos y la cinta no coinciden."},
        {"check the mount profile; no turns could be worked out.",
         "revise el perfil del soporte; no se pudieron calcular las vueltas."},
        // advice
        {"Clockwise is as seen facing the screw's head.",
         "El sentido horario es mirando de frente la cabeza del tornillo."},
        {"The {} screw goes the other way than last time: {} of its turns takes up the play in the "
         "thread. Finish in the direction told.",
         "El tornillo «{=}» va al revés que la última vez: {} de sus vueltas toma el juego de la "
         "rosca. "
         "Termine en el sentido indicado."},
        {"If you pass the mark: go back past it by 1/4 turn and come up to it again in the same "
         "direction, so that the play in the thread is always taken up the same way.",
         "Si se pasa de la marca: regrese 1/4 de vuelta más allá y llegue otra vez en el mismo "
         "sentido, para que el juego de la rosca quede siempre igual."},
        {"After these turns it should point {} (side to side {}, up-down {}).",
         "Después de estas vueltas debe apuntar {} (lateral {}, vertical {})."},
        {"{}: the turns should have moved it {}; they moved it {}.",
         "{}: las vueltas debían moverla {}; la movieron {}."},
        {"Not as they should: nothing was learned from it.",
         "No como debían: no se aprendió nada de eso."},
        {"As they should: further turns are worked out from this.",
         "Como debían: las próximas vueltas se calculan con esto."},
        // the floor layout
        {"Seen from above, the way you see it when you stand ahead of the truck and face it.",
         "Visto desde arriba, como lo ve usted de pie delante del camión y de frente a él."},
        {"Left and right are the truck's own, as seated in the cab: the truck's LEFT is on your "
         "RIGHT.",
         "Izquierda y derecha son las del camión, sentado en la cabina: la IZQUIERDA del camión "
         "queda a su DERECHA."},
        {"Plumb the middle between the rails to the floor at two places, {} apart, the front one "
         "{} behind the sensor's face. Each mark within {}.",
         "Baje con plomada al piso el medio entre los largueros en dos lugares, a {} uno del otro, "
         "el de adelante {} detrás de la cara del sensor. Cada marca dentro de {}."},
        {"Smallest base that serves: {}.", "Base mínima que sirve: {}."},
        {"From {} on, the line hardly adds to the give-or-take.",
         "Desde {}, la línea casi no suma al margen."},
        {"String over both marks and past the board: {} long.",
         "Hilo sobre las dos marcas y más allá del panel: {} de largo."},
        {"String along the rails and past the board: {} long.",
         "Hilo a lo largo de los largueros y más allá del panel: {} de largo."},
        {"The sensor's face stands {}.", "La cara del sensor está {}."},
        {"Rectangle on the floor from under the face to under the board: sides {} and {}, half of "
         "it on each side of the string.",
         "Rectángulo en el piso desde debajo de la cara hasta debajo del panel: lados {} y {}, "
         "la mitad a cada lado del hilo."},
        {"Both diagonals {}: equal diagonals make it square. 1/8 in (3 mm) of difference is {} "
         "deg.",
         "Las dos diagonales {}: si son iguales, está a escuadra. 1/8 in (3 mm) de diferencia son "
         "{} deg."},
        {"{}, {} wide, {} high, TOP up. Its centre {} ahead of the face, {}.",
         "{=}, {} de ancho, {} de alto, TOP arriba. Su centro {} delante de la cara, {}."},
        {"Centre {} above the floor, lower edge {}. The sensor's face {}.",
         "Centro {} sobre el piso, borde inferior {}. La cara del sensor {}."},
        {"To the printed marks, never to the paper:", "A las marcas impresas, nunca al papel:"},
        {"{}: {} to the LEFT of the face, {} behind it, {} up.",
         "{=}: {} a la IZQUIERDA de la cara, {} detrás de ella, {} de alto."},
        {"{}: {} to the RIGHT of the face, {} behind it, {} up.",
         "{=}: {} a la DERECHA de la cara, {} detrás de ella, {} de alto."},
        {"{}: {} to the LEFT of the face, {} ahead of it, {} up.",
         "{=}: {} a la IZQUIERDA de la cara, {} delante de ella, {} de alto."},
        {"{}: {} to the RIGHT of the face, {} ahead of it, {} up.",
         "{=}: {} a la DERECHA de la cara, {} delante de ella, {} de alto."},
        {"{} to the left and right of the face.", "{} a la izquierda y a la derecha de la cara."},
        {"{} to the left, {} to the right of the face.",
         "{} a la izquierda, {} a la derecha de la cara."},
        {"1/8 in (3 mm) between left and right is {} deg there.",
         "1/8 in (3 mm) entre izquierda y derecha son ahí {} deg."},
        {"Hang the board's centre level with the sensor's face, and measure both heights above the "
         "floor below.",
         "Cuelgue el centro del panel a nivel con la cara del sensor y mida las dos alturas "
         "sobre el piso de abajo."},
        {"Wheels chocked, key out. No laser toward eyes. Strings trip: mark them. The vehicle "
         "maker's service information comes first.",
         "Ruedas calzadas, llave fuera. Ningún láser hacia los ojos. Con los hilos se tropieza: "
         "márquelos. Manda la información de servicio del fabricante."},
        {"Board, line, points and distances are to scale where the page is printed at 100 %; the "
         "truck is a sketch. Rails and heights of your truck decide.",
         "Panel, línea, puntos y distancias están a escala si la página se imprime al 100 %; el "
         "camión es un esquema. Mandan los largueros y las alturas de su camión."},
        // both methods
        {"Photos and tape AGREE on {}: they differ by {}; up to {} is to be expected.",
         "Fotos y cinta COINCIDEN en {}: difieren en {}; hasta {} es de esperar."},
        {"Photos and tape DISAGREE on {}: they differ by {}, more than the {} to be expected.",
         "Fotos y cinta NO COINCIDEN en {}: difieren en {}, más de lo esperado, {}."},
        {"Photos and tape on {}: CANNOT TELL; they differ by {}, but only more than {} would show "
         "a "
         "mistake.",
         "Fotos y cinta en {}: NO SE PUEDE SABER; difieren en {}, pero solo más de {} mostraría un "
         "error."},
        {"Service limit MET side to side: tapes differ by {}; allowed {} ({}).",
         "Límite de servicio CUMPLIDO en lateral: las cintas difieren en {}; se permite {} ({})."},
        {"Service limit NOT MET side to side: tapes differ by {}; allowed {} ({}).",
         "Límite de servicio NO CUMPLIDO en lateral: las cintas difieren en {}; se permite {} "
         "({})."},
        {"Service limit MET up-down (within 1.5 deg).",
         "Límite de servicio CUMPLIDO en vertical (dentro de 1.5 deg)."},
        {"Service limit NOT MET up-down (within 1.5 deg).",
         "Límite de servicio NO CUMPLIDO en vertical (dentro de 1.5 deg)."},
        {"Photos and tape-and-level disagree about {}. Take both again before turning anything.",
         "Las fotos y la cinta con nivel no coinciden en {}. Repita las dos antes de girar algo."},
        {"Photos and tape-and-level disagree about {}.",
         "Las fotos y la cinta con nivel no coinciden en {}."},
        {"Not compared again since an earlier stage on this setup:",
         "No se comparó otra vez desde una etapa anterior en esta colocación:"},
        {"one inch explains it: in pass {}, was left read an inch {} or right an inch {}? Read "
         "both "
         "again.",
         "una pulgada lo explica: en la pasada {}, ¿se leyó la izquierda una pulgada {} o la "
         "derecha "
         "una pulgada {}? Lea las dos otra vez."},
        {"one inch explains it: was left read an inch {} or right an inch {} in every pass, or "
         "does "
         "the tape begin at 1? Read both again. A bumper out of square by an inch, its {} point "
         "further ahead, would look the same.",
         "una pulgada lo explica: ¿se leyó la izquierda una pulgada {} o la derecha una pulgada {} "
         "en "
         "cada pasada, o la cinta empieza en 1? Lea las dos otra vez. Una defensa fuera de "
         "escuadra "
         "por una pulgada, su punto del lado {} más adelante, se vería igual."},
        {"side to side nothing simple explains the difference; measure both ways again.",
         "en lateral nada sencillo explica la diferencia; mida otra vez de las dos maneras."},
        {"a bumper out of square by another {}, its {} point further ahead, would explain "
         "it, "
         "and so would a line of the rails that is {} off to the {}: is the bumper square to the "
         "rails? Was the line plumbed from the rails?",
         "lo explicaría una defensa fuera de escuadra por otros {}, su punto del lado {} "
         "más "
         "adelante, o una línea de los largueros desviada {} hacia la {}: ¿está la defensa a "
         "escuadra "
         "con los largueros? ¿Se plomó la línea desde los largueros?"},
        {"swapping left and right makes both methods agree: were the tapes swapped, or is the beam "
         "{} "
         "the points?",
         "si se cambian izquierda y derecha, las dos maneras coinciden: ¿se cambiaron las cintas, "
         "o "
         "está el rayo {} los puntos?"},
        {"calling the nose down instead of up, or up instead of down, makes both methods agree: "
         "was "
         "the inclinometer's sign swapped?",
         "si la nariz va hacia abajo en vez de arriba, o al revés, las dos maneras coinciden: ¿se "
         "cambió el signo del nivel?"},
        {"up and down nothing simple explains the difference: zero the inclinometer on the rail "
         "and "
         "measure the face, the board and the floor again.",
         "en vertical nada sencillo explica la diferencia: ponga a cero el nivel en el larguero y "
         "mida otra vez la cara, el panel y el piso."},
        // a photo
        {"the target was not found. Take the photo again with the whole board in view.",
         "no se encontró el panel. Tome la foto otra vez con todo el panel a la vista."},
        {"only a few corners of the board can be seen. Clear the view and take it again.",
         "se ven pocas esquinas del panel. Despeje la vista y tómela otra vez."},
        {"the photo is not sharp. Hold the phone still and let it focus on the board.",
         "la foto no está nítida. Tenga quieto el teléfono y deje que enfoque el panel."},
        {"the photo is too dark. Light the board and take it again.",
         "la foto está muy oscura. Ilumine el panel y tómela otra vez."},
        {"the photo is blurred: even its sharpest edges are soft; hold the phone still, tap on the "
         "board to focus and take the photo again",
         "la foto está borrosa: hasta sus bordes más nítidos son suaves; tenga quieto el teléfono, "
         "toque el panel para enfocar y tome la foto otra vez"},
        {"the file has {} x {} pixels, the camera file '{}' is for {} x {}: a copy that was made "
         "smaller. Bring the original photo.",
         "el archivo tiene {} x {} píxeles, el archivo de cámara '{=}' es para {} x {}: es una "
         "copia reducida. Traiga la foto original."},
        {"only {} of {} corners of the board can be seen, or they lie along one line: its {} part "
         "is "
         "missing (as you face it); clear what hides the board and take the photo with all of it "
         "in "
         "the picture",
         "solo se ven {} de {} esquinas del panel, o están en una sola línea: falta su parte {} "
         "(de "
         "frente a él); quite lo que tapa el panel y tome la foto con todo el panel en la "
         "imagen"},
        {"only {} of {} corners of the board can be seen, or they lie along one line: its upper "
         "part is "
         "missing (as you face it); clear what hides the board and take the photo with all of it "
         "in "
         "the picture",
         "solo se ven {} de {} esquinas del panel, o están en una sola línea: falta su parte "
         "superior (de "
         "frente a él); quite lo que tapa el panel y tome la foto con todo el panel en la "
         "imagen"},
        {"only {} of {} corners of the board can be seen, or they lie along one line: its lower "
         "part is "
         "missing (as you face it); clear what hides the board and take the photo with all of it "
         "in "
         "the picture",
         "solo se ven {} de {} esquinas del panel, o están en una sola línea: falta su parte "
         "inferior (de "
         "frente a él); quite lo que tapa el panel y tome la foto con todo el panel en la "
         "imagen"},
        {"only {} of {} corners of the board can be seen, or they lie along one line; clear what "
         "hides the board and take the photo with all of it in the picture",
         "solo se ven {} de {} esquinas del panel, o están en una sola línea; quite lo que tapa "
         "el "
         "panel y tome la foto con todo el panel en la imagen"},
        {"only {} of {} corners of the board can be seen; clear what hides it, avoid glare and "
         "take "
         "the photo again",
         "solo se ven {} de {} esquinas del panel; quite lo que lo tapa, evite reflejos y tome "
         "la "
         "foto otra vez"},
        {"the board's edges are smeared over {} pixels; hold the phone still, tap on the board to "
         "focus and take the photo again",
         "los bordes del panel están borrosos en {} píxeles; tenga quieto el teléfono, toque el "
         "panel para enfocar y tome la foto otra vez"},
        {"the board's black and white hardly differ; put more light on the board, without glare, "
         "and "
         "take the photo again",
         "el negro y el blanco del panel casi no se distinguen; ilumine más el panel, sin "
         "reflejos, y tome la foto otra vez"},
        {"a checkerboard is in the picture, but the markers of this board cannot be read on it; "
         "check "
         "that it is the board named in the job, and retake the photo, sharper or from nearer",
         "hay un damero en la imagen, pero no se leen en él las marcas de este "
         "panel; "
         "revise que sea el panel del trabajo y tome la foto más nítida o más de cerca"},
        {"the photo is too dark to find the board; put more light on the board and take the photo "
         "again",
         "la foto está muy oscura para encontrar el panel; ilumine más el panel y tome la foto "
         "otra vez"},
        {"the board was not found; check that it is the board named in the job, that all of it is "
         "in "
         "the picture, sharp and lit, and go nearer if it looks small",
         "no se encontró el panel; revise que sea el panel del trabajo, que esté completo en "
         "la "
         "imagen, nítido e iluminado, y acérquese si se ve pequeño"},
        {"the board in the photo is a mirror image; photograph the board itself, printed without "
         "mirroring",
         "el panel de la foto está en espejo; fotografíe el panel mismo, impreso sin espejo"},
        {"the board in the photo has more than {} rows of squares; correct the board file, or take "
         "the photo of the board that it describes",
         "el panel de la foto tiene más de {} filas de cuadros; corrija el archivo del panel, "
         "o "
         "tome la foto del panel que describe"},
        {"the markers in the photo stand on a board of {} squares across, the board file says {}; "
         "correct the board file, or take the photo of the board that it describes",
         "las marcas de la foto están en un panel de {} cuadros de ancho, el archivo dice {}; "
         "corrija el archivo del panel, o tome la foto del panel que describe"},
        {"the markers in the photo are numbered from {}, the board file says first_id {}; correct "
         "the "
         "board file, or take the photo of the board that it describes",
         "las marcas de la foto se numeran desde {}, el archivo dice first_id {}; corrija el "
         "archivo "
         "del panel, o tome la foto del panel que describe"},
        {"the markers in the photo do not stand where the board file says; correct the board file, "
         "or "
         "take the photo of the board that it describes",
         "las marcas de la foto no están donde dice el archivo del panel; corríjalo, o tome la "
         "foto "
         "del panel que describe"},
        {"the checkerboard in the photo has no markers, the board file says {}; correct the board "
         "file, or take the photo of the board that it describes",
         "el damero de la foto no tiene marcas, el archivo dice {}; corrija el archivo "
         "del panel, o tome la foto del panel que describe"},
        {"the markers in the photo are of the family {}, the board file says {}; correct the board "
         "file, or take the photo of the board that it describes",
         "las marcas de la foto son de la familia {}, el archivo dice {}; corrija el archivo del "
         "panel, o tome la foto del panel que describe"},
        {"the board in the photo begins with a {} square, the board file says {}; correct the "
         "board "
         "file, or take the photo of the board that it describes",
         "el panel de la foto empieza con un cuadro {}, el archivo dice {}; corrija el archivo "
         "del "
         "panel, o tome la foto del panel que describe"},
        {"the photo has {} x {} pixels, the camera file '{}' is for {} x {}. Its picture was "
         "turned "
         "after it was taken. Bring the original file.",
         "la foto tiene {} x {} píxeles, el archivo de cámara '{=}' es para {} x {}. La imagen se "
         "giró "
         "después de tomarla. Traiga el archivo original."},
        {"the photo has {} x {} pixels, the camera file '{}' is for {} x {}. Use the phone and the "
         "photo size that were calibrated, and the original file.",
         "la foto tiene {} x {} píxeles, el archivo de cámara '{=}' es para {} x {}. Use el "
         "teléfono y "
         "el tamaño de foto que se calibraron, y el archivo original."},
        {"the phone took {} x {} pixels, the file has {} x {}: it was scaled or cropped. Bring the "
         "original photo.",
         "el teléfono tomó {} x {} píxeles, el archivo tiene {} x {}: se redujo o se recortó. "
         "Traiga "
         "la foto original."},
        {"the camera file names no make and model, so nothing shows that this camera took it. Add "
         "'identity' to the camera file, as the photos' own data have it.",
         "el archivo de cámara no dice marca ni modelo, así que nada muestra que la tomó esta "
         "cámara. "
         "Agregue 'identity' al archivo de cámara, como está en los datos de las fotos."},
        {"the photo does not tell its {}, so nothing shows that this camera took it: a messenger "
         "or "
         "an editor took that out. Bring the original, by cable or sent as a file.",
         "la foto no dice su {}, así que nada muestra que la tomó esta cámara: una mensajería o un "
         "editor lo quitó. Traiga la original, por cable o enviada como archivo."},
        {"not taken by the camera of '{}' ({}). Use the calibrated phone and lens, or name that "
         "phone's camera file on the job sheet.",
         "no la tomó la cámara de '{=}' ({}). Use el teléfono y el lente calibrados, o ponga el "
         "archivo de cámara de ese teléfono en el trabajo."},
        {"taken with a digital zoom of {}. Take it again without zoom.",
         "tomada con zoom digital de {}. Tómela otra vez sin zoom."},
        {"taken with a zoom ({}). Take it again without zoom.",
         "tomada con zoom ({}). Tómela otra vez sin zoom."},
        {"{} is {}. Take a new photo for each entry.", "{} es {}. Tome una foto nueva cada vez."},
        {"{} was taken at {}, before this job was begun ({}). Is it an old photo? Take it anew. "
         "Set "
         "the phone's clock first if it is wrong.",
         "{} se tomó el {}, antes de empezar este trabajo ({}). ¿Es una foto vieja? Tómela de "
         "nuevo. Si el reloj del teléfono está mal, póngalo primero en hora."},
        {"{} is a photo of job {}. Take a new photo of this vehicle.",
         "{} es una foto del trabajo {=}. Tome una foto nueva de este vehículo."},
        {"{}: closing.{}: {} lies before this job was begun ({}); write the day on which it was "
         "done",
         "{=}: closing.{=}: {} es anterior al comienzo de este trabajo ({}); escriba el día en que "
         "se hizo"},
        {"{}: closing.{}: {} is still to come; write the day on which it was done, once it was",
         "{=}: closing.{=}: {} aún no llega; escriba el día en que se hizo, cuando se haya hecho"},
        {"{}: or a file that it names was changed while it was measured; store it again",
         "{=}: o un archivo que nombra cambió mientras se medía; guárdelo otra vez"},
        {"{} was taken at {}, before {} of an earlier stage ({}). Is it an old photo? Take it "
         "again "
         "at this stage.",
         "{} se tomó el {}, antes que {} de una etapa anterior ({}). ¿Es una foto vieja? Tómela "
         "otra "
         "vez en esta etapa."},
        {"{} was taken at {} and {} at {}: photos of one stage belong to one visit. Is one an old "
         "photo? Take all photos of this stage anew.",
         "{} se tomó el {} y {} el {}: las fotos de una etapa son de una sola visita. ¿Hay una "
         "foto "
         "vieja? Tome de nuevo todas las fotos de esta etapa."},
        {"{} was taken at {} and {} at {}, on a setup that is said to be the same. If truck or "
         "board "
         "may have moved since, measure the setup again.",
         "{} se tomó el {} y {} el {}, en una colocación que se dice igual. Si el camión o el "
         "panel "
         "se pudo mover, mida otra vez la colocación."},
        {"The phone check of '{}' is of {}, more than a year before {}. Calibrate the phone again.",
         "La revisión del teléfono '{=}' es del {}, más de un año antes de {}. Calibre otra vez el "
         "teléfono."},
        {"{} was taken at {}, more than {} days before the phone check of '{}' ({}). Is it an old "
         "photo? A phone that was changed since is another camera.",
         "{} se tomó el {}, más de {} días antes de la revisión del teléfono '{=}' ({}). ¿Es una "
         "foto "
         "vieja? Un teléfono que se cambió desde entonces es otra cámara."},
        {"{} was taken at {}, by the clock of this computer still to come. Set the clock that is "
         "wrong, the phone's or the computer's: the order of photos is read from it.",
         "{} se tomó el {}, según el reloj de esta computadora todavía por venir. Corrija el reloj "
         "equivocado, el del teléfono o el de la computadora: de él se lee el orden de las fotos."},
        // how the photos stood
        {"Photos labelled '{}' are {} deg apart in roll, more than {}. Check which way up the "
         "phone "
         "was in each photo and correct the labels.",
         "Las fotos anotadas como '{}' difieren {} deg en giro, más de {}. Revise cómo estaba el "
         "teléfono en cada foto y corrija lo anotado."},
        {"Photos labelled '{}' and '{}' are {} deg apart in roll instead of {} +/- {}. Take the "
         "photos again, the phone turned as the labels say, or correct the labels.",
         "Las fotos anotadas como '{}' y '{}' difieren {} deg en giro en vez de {} +/- {}. Tome "
         "las "
         "fotos otra vez, con el teléfono como dicen las notas, o corrija lo anotado."},
        {"The board's TOP is {} deg away from up according to {}. Hang the board with TOP up, or "
         "check "
         "which way up the phone was, and take the photos again.",
         "El TOP del panel está a {} deg de arriba según {}. Cuelgue el panel con TOP arriba, "
         "o "
         "revise cómo estaba el teléfono, y tome las fotos otra vez."},
        {"The phone's record of which way up it was does not follow the photos, so it cannot check "
         "that the board's TOP was up. Check it by eye.",
         "Lo que el teléfono registró como arriba no concuerda con las fotos, así que no puede "
         "comprobar que el TOP estaba arriba. Revíselo a ojo."},
        {"All labels 'upright' and 'inverted' are swapped; the photos show which is which, so the "
         "answer is not changed.",
         "Todas las anotaciones 'upright' e 'inverted' están cambiadas; las fotos muestran cuál es "
         "cuál y el resultado no cambia."},
        {"In {} the phone points {} deg away from how it pointed in the others: the cradle did not "
         "sit flat on the face, or the phone slipped. Wipe face and cradle, seat it, and take the "
         "photo again.",
         "En {} el teléfono apunta {} deg distinto que en las otras: la base no asentó plana en la "
         "cara, o el teléfono se deslizó. Limpie cara y base, asiéntela y tome la foto otra vez."},
        {"It may be {} instead.", "También puede ser {}."},
        {"Give-or-take was widened for it.", "El margen se amplió por eso."},
        {"The phone points {} deg differently from the stage '{}' on: the cradle was knocked or "
         "the "
         "phone slipped in it. The change was taken as unknown; a stage needs upright and inverted "
         "photos of its own after it.",
         "El teléfono apunta {} deg distinto desde la etapa '{}': la base se golpeó o el teléfono "
         "se "
         "deslizó. El cambio se tomó como desconocido; después hacen falta fotos derechas e "
         "invertidas propias de la etapa."},
        {"By the photos the face stands about {} nearer to the board since the stage '{}' than "
         "before, more than turning the screws can do: truck or board moved, and 'setup: same' is "
         "not true. Measure the setup again and write it at that stage.",
         "Según las fotos la cara está unos {} más cerca del panel desde la etapa '{}', más de "
         "lo que "
         "pueden los tornillos: el camión o el panel se movió. Mida otra vez la colocación."},
        {"By the photos the face stands about {} farther from the board since the stage '{}' than "
         "before, more than turning the screws can do: truck or board moved, and 'setup: same' is "
         "not true. Measure the setup again and write it at that stage.",
         "Según las fotos la cara está unos {} más lejos del panel desde la etapa '{}', más de "
         "lo que "
         "pueden los tornillos: el camión o el panel se movió. Mida otra vez la colocación."},
        {"The cradle '{}' points {} deg away from what was stored {}: it was knocked or the phone "
         "sits "
         "differently. This job's own upright and inverted photos were used instead; store the "
         "cradle anew.",
         "La base «{=}» apunta {} deg distinto de lo guardado {}: se golpeó o el teléfono asienta "
         "de "
         "otra forma. Se usaron las fotos derechas e invertidas de este trabajo; guarde la base de "
         "nuevo."},
        {"The cradle '{}' was measured with the camera '{}', this job uses '{}'; what is stored of "
         "it "
         "was not used.",
         "La base «{=}» se midió con la cámara '{=}', este trabajo usa '{=}'; lo guardado no se "
         "usó."},
        {"No photo was taken with the phone turned upside down; the stored offset of the cradle "
         "'{}' "
         "({}) was used.",
         "No se tomó ninguna foto con el teléfono invertido; se usó el desvío guardado de la base "
         "'{=}' ({})."},
        {"No photo was taken with the phone turned upside down, and nothing is stored of the "
         "cradle: "
         "aim is not determined well enough. Take photos with the phone turned upside down in its "
         "cradle too.",
         "No se tomó ninguna foto con el teléfono invertido y no hay nada guardado de la base: la "
         "orientación no queda bien determinada. Tome también fotos con el teléfono invertido en "
         "su "
         "base."},
        {"As left was photographed one way up only, so it leans on how the phone pointed in its "
         "cradle "
         "at an earlier stage; a knock since then could stay unseen. Take photos with the phone "
         "upright and upside down once more before the result is signed.",
         "Como queda se fotografió en una sola posición, así que depende de cómo apuntaba el "
         "teléfono "
         "en una etapa anterior; un golpe desde entonces no se vería. Tome otra vez fotos derechas "
         "e "
         "invertidas antes de firmar el resultado."},
        {"The print of the board '{}' was never measured. Measure both check bars and record them: "
         "squaresight target --help.",
         "La impresión del panel «{=}» nunca se midió. Mida las dos barras de control y "
         "anótelas: "
         "squaresight target --help."},
        // the readings
        {"By the photos the board is {} away, by tape {}: {} % apart, more than {} % can be "
         "explained. Tape the distance again; measure both check bars of the print (was it printed "
         "at "
         "{} %?); make sure that it is this target and that the phone did not zoom or change its "
         "lens.",
         "Según las fotos el panel está a {}, según la cinta a {}: difieren {} %, más del "
         "{} % "
         "que se puede explicar. Mida otra vez la distancia; mida las dos barras de control de la "
         "impresión (¿se imprimió al {} %?); asegúrese de que es este panel y de que el teléfono "
         "no "
         "usó zoom ni cambió de lente."},
        {"Take the reading '{}' again: {} does not fit the rest, by about {} (test value {}, limit "
         "{}).",
         "Tome otra vez la lectura '{}': {} no concuerda con lo demás, por unos {} (valor de "
         "prueba "
         "{}, límite {})."},
        {"It may be another instead: {}. Take these again too.",
         "Puede ser otra en su lugar: {}. Tómelas otra vez también."},
        {"It was left out of the answer; give-or-take covers the others.",
         "Se dejó fuera del resultado; el margen cubre las otras."},
        {"Nothing checks {}: one inch misread would move side-to-side aim beyond its limit. Tape "
         "it again.",
         "Nada comprueba {}: una pulgada mal leída movería la orientación lateral más allá de su "
         "límite. Mídala otra vez."},
        {"Of '{}':", "De '{}':"},
        {"It was left out of the answer.", "Se dejó fuera del resultado."},
        {"Swapping it with '{}' makes both fit: were the two swapped?",
         "Si se cambia con '{}', las dos concuerdan: ¿se cambiaron entre sí?"},
        {"It fits as inches: were inches written down as mm?",
         "Concuerda en pulgadas: ¿se anotaron pulgadas como mm?"},
        {"It fits as mm: were mm written down as inches?",
         "Concuerda en mm: ¿se anotaron mm como pulgadas?"},
        {"It fits as feet: were feet written down as inches?",
         "Concuerda en pies: ¿se anotaron pies como pulgadas?"},
        {"It fits as inches: were inches written down as feet?",
         "Concuerda en pulgadas: ¿se anotaron pulgadas como pies?"},
        {"One inch more would fit: was it misread?", "Una pulgada más concordaría: ¿se leyó mal?"},
        {"One inch less would fit: was it misread?",
         "Una pulgada menos concordaría: ¿se leyó mal?"},
        {"Two inches more would fit: was it misread?",
         "Dos pulgadas más concordarían: ¿se leyó mal?"},
        {"Two inches less would fit: was it misread?",
         "Dos pulgadas menos concordarían: ¿se leyó mal?"},
        {"The same on the other side fits: were left and right swapped?",
         "Lo mismo del otro lado concuerda: ¿se cambiaron izquierda y derecha?"},
        {"The same the other way fits: was its direction swapped (up for down, left for right)?",
         "Lo mismo al revés concuerda: ¿se cambió su dirección (arriba por abajo, izquierda por "
         "derecha)?"},
        {"The board could stand in two mirrored ways that fit the photos nearly alike; the "
         "give-or-take covers both. Turn the board a few degrees, read how far, or use a larger "
         "board "
         "or a shorter distance.",
         "El panel podría estar de dos maneras en espejo que concuerdan casi igual; el margen "
         "cubre "
         "las dos. Gire el panel unos grados y lea cuánto, o use un panel más grande o una "
         "distancia más corta."},
        {"The readings do not fit together (chi-square {} for {} degrees of freedom), and no "
         "single "
         "one stands out. Give-or-take was widened; take the setup's readings again.",
         "Las lecturas no concuerdan entre sí (chi cuadrado {} con {} grados de libertad) y "
         "ninguna "
         "destaca. El margen se amplió; tome otra vez las lecturas de la colocación."},
        {"The stages do not fit together: board, truck or cradle moved between them. Each stage "
         "was "
         "solved by itself; measure the setup again before relying on the change.",
         "Las etapas no concuerdan: el panel, el camión o la base se movió entre ellas. Cada "
         "etapa "
         "se resolvió sola; mida otra vez la colocación antes de confiar en el cambio."},
        {"Nothing else in this job would show a misreading of: {}. Each could move side-to-side "
         "aim by more than its limit. Check them with crossed tapes from points far apart on the "
         "bumper, a second place for the board, or tape-and-level.",
         "Nada más en este trabajo mostraría una mala lectura de: {}. Cada una podría mover la "
         "orientación lateral más que su límite. Revíselas con cintas cruzadas desde puntos "
         "separados en la defensa, un segundo lugar del panel, o cinta y nivel."},
        {"Nothing else in this job would show that truck or board moved sideways or turned since "
         "the "
         "stage before: it is taken as said that they did not. Tape-and-level at this stage checks "
         "it; "
         "after moving anything measure the setup again.",
         "Nada más en este trabajo mostraría que el camión o el panel se movió de lado o giró "
         "desde "
         "la etapa anterior: vale lo que se dijo, que no. La cinta con nivel en esta etapa lo "
         "comprueba; si se movió algo, mida "
         "otra vez la colocación."},
        {"Not measured, and it matters here: {}. Wide limits stand in for it; measure it and add "
         "it to "
         "the job sheet.",
         "Sin medir, y aquí importa: {}. En su lugar van límites amplios; mídalo y anótelo."},
        {"{} cannot be shown to be within its limit: give or take {} against a limit of {}. "
         "Improve "
         "this first: {}.",
         "{}: no se puede mostrar que está dentro de su límite: margen de {} contra un límite de "
         "{}. "
         "Mejore primero: {}."},
        {"tape and level cannot show the {} within {}, {}: better first '{}', or measure by photos",
         "la cinta con nivel no puede mostrar la {} dentro de {}, {}: mejore primero '{}', o mida "
         "con "
         "fotos"},
        {"The photos and readings could not be brought to one answer. Check distance and heights "
         "on "
         "the job sheet, and that each photo shows this job's target.",
         "Las fotos y las lecturas no llevan a un resultado. Revise distancia y alturas, y que "
         "cada "
         "foto muestre el panel de este trabajo."},
        {"{}: by this photo alone the board is not where the tape has it, by others it is. Is it "
         "this job's board, the calibrated phone and lens, no zoom? Take it again.",
         "{=}: según esta foto sola el panel no está donde dice la cinta, según otras sí. ¿Es el "
         "panel de este trabajo, el teléfono y el lente calibrados, sin zoom? Tómela otra vez."},
        {"Set aside, the answer does not use them: {}.",
         "Apartadas, el resultado no las usa: {=}."},
        {"Set aside: {}. No photo of this stage is left: take them again, as said of each.",
         "Apartadas: {=}. No queda ninguna foto de esta etapa: tómelas otra vez, como se dice de "
         "cada una."},
        {"By the photos the face would point more than {} deg away from straight ahead, as no "
         "mount does; no number is given. Look at each photo: this job's board with TOP up, the "
         "calibrated phone, no zoom. Then take them again.",
         "Según las fotos la cara apuntaría a más de {} deg del frente, como ningún soporte; no se "
         "da ningún número. Mire cada foto: el panel de este trabajo con TOP arriba, el teléfono "
         "calibrado, sin zoom. Después tómelas otra vez."},
        {"The target was not found in any photo, so vision gives no aim. Take the photos again: "
         "whole "
         "board in view, in focus, evenly lit.",
         "No se encontró el panel en ninguna foto, así que no hay orientación. Tome las fotos "
         "otra "
         "vez: todo el panel a la vista, enfocado, con luz pareja."},
        // turning
        {"These turns do not fit what later ones did to the face: it looks as if they were not "
         "made as "
         "written. Write on the job sheet what was turned; nothing is learned from them.",
         "Estas vueltas no concuerdan con lo que hicieron las siguientes: parece que no se "
         "hicieron "
         "como se anotó. Anote lo que se giró; de ellas no se aprende nada."},
        {"The screws were not locked when the as-left measurement was taken. Lock them, measure "
         "again, "
         "and write 'locked: yes'.",
         "Los tornillos no estaban bloqueados al medir como queda. Bloquéelos y mida otra vez."},
        {"The face moved since the stage before although nothing was turned: locking the screws "
         "has "
         "likely moved it. Only this as-left measurement counts.",
         "La cara se movió desde la etapa anterior aunque no se giró nada: es probable que al "
         "bloquear "
         "se moviera. Solo cuenta esta medición como queda."},
        {"it looks as if screw '{}' was turned in place of screw '{}', and the other way round: "
         "look "
         "which is which in the picture of the mount, and write on the job sheet what was turned",
         "parece que se giró el tornillo «{=}» en lugar del tornillo «{=}», y al revés: vea cuál "
         "es "
         "cuál "
         "en el dibujo del soporte, y anote lo que se giró"},
        {"{} should not have moved the face as it did (as by {}), and no one mistake explains it: "
         "check what was turned, and that nothing else moved mount, phone, board or truck since "
         "the "
         "measurement before",
         "{} no debían mover la cara como se movió (como {}), y ningún error solo lo explica: "
         "revise "
         "lo que se giró, y que nada más movió soporte, teléfono, panel o camión desde la "
         "medición "
         "anterior"},
        {"screw '{}' was turned {}, and the face hardly moved (as by {}): look for a stripped or "
         "seized "
         "screw, a loose retainer, or another screw that was turned in its place",
         "el tornillo «{=}» se giró {}, y la cara casi no se movió (como {}): busque un tornillo "
         "barrido "
         "o trabado, un retén flojo, u otro tornillo que se giró en su lugar"},
        {"screw '{}' was turned {}, and the face moved as if it had been turned {}: do not turn it "
         "again;",
         "el tornillo «{=}» se giró {}, y la cara se movió como si se hubiera girado {}: no lo "
         "gire "
         "otra "
         "vez;"},
        {"{} were made, and the face moved as if both screws had been turned the other way ({}): "
         "do "
         "not turn them again;",
         "se hicieron {}, y la cara se movió como si los dos tornillos se hubieran girado al revés "
         "({}): no los gire otra vez;"},
        {"it answered as its profile says before, so it was likely turned the wrong way this time: "
         "write on the job sheet which way it was really turned",
         "antes respondió como dice su perfil, así que esta vez se giró probablemente al revés: "
         "anote "
         "hacia dónde se giró de verdad"},
        {"either the mount's profile has 'clockwise' of this screw wrong: correct it there; or it "
         "was "
         "turned the wrong way: write on the job sheet which way it was really turned",
         "o el perfil del soporte tiene mal 'clockwise' de este tornillo: corríjalo ahí; o se giró "
         "al "
         "revés: anote hacia dónde se giró de verdad"},
        {"either the mount's profile has 'clockwise' of both screws (it is as seen facing the "
         "screw's "
         "head) wrong: correct it there; or it was turned the wrong way: write on the job sheet "
         "which "
         "way it was really turned",
         "o el perfil del soporte tiene mal 'clockwise' de los dos tornillos (es mirando la "
         "cabeza): "
         "corríjalo ahí; o se giraron al revés: anote hacia dónde se giraron de verdad"},
        {"{}, after {}: it looks as if {}. Write on the job sheet what was turned; if all of it "
         "was, "
         "look for a screw that slips, or a profile whose points or threads are not those of this "
         "mount",
         "{}, después de {}: parece que {}. Anote lo que se giró; si se giró todo, busque un "
         "tornillo "
         "que resbala, o un perfil cuyos puntos o roscas no son los de este soporte"},
        {"The measurement cannot tell this from: {}", "La medición no lo distingue de: {}"},
        {"screw '{}' at a sensor reading of {}: the service table says {}, the points and the "
         "thread "
         "of the profile make it {}; check both against the service information (the turns given "
         "here "
         "follow the geometry)",
         "tornillo «{=}» con lectura del sensor de {}: la tabla de servicio dice {}, los puntos y "
         "la "
         "rosca del perfil dan {}; revise los dos con la información de servicio (las vueltas de "
         "aquí "
         "siguen la geometría)"},
        {"screw '{}' would end {} from where it was found, its travel is {} turns either way: do "
         "not "
         "force it; read the angle again, count the thread that is left, and look for a bent "
         "bracket, which is replaced, not screwed straight",
         "el tornillo «{=}» quedaría a {} de donde estaba, su recorrido es de {} vueltas a cada "
         "lado: no lo fuerce; lea otra vez el ángulo, cuente la rosca que queda y busque una "
         "ménsula doblada, que se reemplaza, no se endereza con los tornillos"},
        {"mount '{}' names no source, so its tolerance and its screws are unproven; add 'source' "
         "with "
         "document and date",
         "el soporte «{=}» no dice de dónde viene, así que su tolerancia y sus tornillos no están "
         "probados; agregue 'source' con documento y fecha"},
        {"the measured angle is none that a mount's face can have, so no turns are given; measure "
         "again",
         "el ángulo medido no es posible en la cara de un soporte, así que no se dan vueltas; mida "
         "otra "
         "vez"},
        // tape and level
        {"a reference point is only {} from the centreline, where {} counts for much: measure "
         "from points {} or more out",
         "un punto de referencia está a solo {} de la línea central, donde {} cuenta mucho: "
         "mida desde puntos a {} o más"},
        {"the points are {} to the left and {} to the right: the laser's own angle then no longer "
         "cancels; equal distances are better",
         "los puntos están a {} a la izquierda y {} a la derecha: el ángulo propio del láser ya no "
         "se cancela; son mejores distancias iguales"},
        {"the points are {} to the left and {} to the right: the two tapes then do not weigh "
         "alike; equal distances are better",
         "los puntos están a {} a la izquierda y {} a la derecha: las dos cintas ya no pesan "
         "igual; son mejores distancias iguales"},
        {"pass {}: left {} and right {} differ by more than {}; read both again",
         "pasada {}: izquierda {} y derecha {} difieren en más de {}; lea las dos otra vez"},
        {"the passes disagree by {}, more than reading the tape explains: did the laser or the "
         "truck move? measure again (the wider spread is counted)",
         "las pasadas difieren en {}, más de lo que explica leer la cinta: ¿se movió el láser o "
         "el "
         "camión? mida otra vez (se cuenta la dispersión mayor)"},
        {"the inclinometer readings lie {} deg apart, more than its limits allow: clean the face "
         "and "
         "measure again (the wider spread is counted)",
         "las lecturas del nivel difieren {} deg, más de lo que permiten sus límites: limpie la "
         "cara y "
         "mida otra vez (se cuenta la dispersión mayor)"},
        // signing
        {"job {}: was measured by {}, who cannot review it; have another person review it",
         "trabajo {=}: lo midió {=}, que no puede revisarlo; que lo revise otra persona"},
        {"job {}: does not tell who measured it, so it cannot be accepted as reviewed by another "
         "person; return it, write 'technician:' on the job sheet and add it again",
         "trabajo {=}: no dice quién lo midió, así que no se puede aceptar; devuélvalo, anote el "
         "técnico y revíselo otra vez"},
        {"job {}: is returned without a reason; say what is to be done, with --reason",
         "trabajo {=}: se devuelve sin motivo; diga qué hay que hacer"},
        {"job {}: is not done; on top of it stands '{}'; return it, or say with --reason why it "
         "stands all the same",
         "trabajo {=}: no está terminado; arriba dice '{}'; devuélvalo, o diga en el motivo por "
         "qué vale aun así"},
        {"job {}: does not tell whether it was done: it was stored by an earlier version; return "
         "it, or say with --reason why it stands all the same",
         "trabajo {=}: no dice si estaba terminado: lo guardó una versión anterior; devuélvalo, o "
         "diga en el motivo por qué vale aun así"},
        {"job {}: was stored again since it was shown: entry {}, revision {} is another; look at "
         "the newest revision, then sign that",
         "trabajo {=}: se guardó otra vez desde que se mostró: el registro {}, revisión {} es "
         "otro; "
         "mire la revisión más nueva y firme esa"},
        // where it comes from
        {"Limits and screws: mount {}, no source given. Its limits are UNPROVEN: check them with "
         "the "
         "vehicle maker.",
         "Límites y tornillos: soporte «{=}», sin fuente. Sus límites NO ESTÁN PROBADOS: revíselos "
         "con "
         "el fabricante."},
        {"Limits and screws: mount {}, from {}.", "Límites y tornillos: soporte «{=}», de {=}."},
        {"Turns: worked out from what {} round of other jobs showed of this mount.",
         "Vueltas: calculadas con lo que {} ronda de otros trabajos mostró de este soporte."},
        {"Turns: worked out from what {} rounds of other jobs showed of this mount.",
         "Vueltas: calculadas con lo que {} rondas de otros trabajos mostraron de este soporte."},
        {"Phone check: {}, typed in.", "Revisión del teléfono: {=}, escrita a mano."},
        {"Phone check: {}.", "Revisión del teléfono: {=}."},
        {"Board: {}, print checked {}.", "Panel: {=}, impresión revisada {=}."},
        {"Board: {}, print NOT CHECKED.", "Panel: {=}, impresión SIN REVISAR."},
        {"Cradle: {}.", "Base: {=}."},
        {"Program: {}.", "Programa: {=}."},
        // the page's own
        {"the job could not be stored with the records: measure it, and see that the records' file "
         "can "
         "be written",
         "el trabajo no se pudo guardar en los registros: mídalo, y vea que se pueda escribir el "
         "archivo de registros"},
        {"measuring did not come to an end: a photo may be damaged or far too large; take the last "
         "photo again",
         "la medición no terminó: una foto puede estar dañada o ser demasiado grande; tome otra "
         "vez la "
         "última foto"},
        {"Nothing was measured yet: take the photos, or tape and level",
         "Todavía no se midió nada: tome las fotos, o cinta y nivel"},
        // what is wrong in a file that was written by hand
        {"is not a text file; name a YAML file; is this a photo or a PDF?",
         "no es un archivo de texto; indique un archivo YAML; ¿es una foto o un PDF?"},
        {"is not valid YAML ({}); check indentation (spaces, no tabs), colons and quotes on this "
         "line",
         "no es YAML válido ({=}); revise en esta línea la sangría (espacios, sin tabuladores), "
         "los "
         "dos puntos y las comillas"},
        {"holds more than one YAML document; keep one and take out the lines '---' between them",
         "tiene más de un documento YAML; deje uno y quite las líneas '---' entre ellos"},
        {"holds no keys; a file of this kind begins with 'schema: {}'",
         "no tiene claves; un archivo así empieza con 'schema: {=}'"},
        {"has no 'schema'; begin the file with 'schema: {}'",
         "no tiene 'schema'; empiece el archivo con 'schema: {=}'"},
        {"is '{}'; a file with 'schema: {}' is needed here",
         "es '{=}'; aquí se necesita un archivo con 'schema: {=}'"},
        {"needs keys under it; write some of: {}",
         "necesita claves debajo; escriba algunas de: {=}"},
        {"is not a key that is known here; did you mean '{}'?",
         "no es una clave conocida aquí; ¿quiso decir '{=}'?"},
        {"is not a key that is known here; known are: {}",
         "no es una clave conocida aquí; se conocen: {=}"},
        {"stands here twice; keep one of the two", "está aquí dos veces; deje una"},
        {"has no '{}'; add '{}: ...'", "no tiene '{=}'; agregue '{=}: ...'"},
        {"is not a list; begin each item with '- ' or write [a, b]",
         "no es una lista; empiece cada elemento con '- ' o escriba [a, b]"},
        {"is an empty list; add at least one item",
         "es una lista vacía; agregue al menos un elemento"},
        {"has a key that is not a word; write keys as plain words",
         "tiene una clave que no es una palabra; escriba las claves como palabras simples"},
        {"has no value; write a value after the colon",
         "no tiene valor; escriba un valor después de los dos puntos"},
        {"is not a short text on one line; write at most 500 characters on one line",
         "no es un texto corto en una línea; escriba a lo más 500 caracteres en una línea"},
        {"is '{}'; write one of: {}", "es '{=}'; escriba uno de: {=}"},
        {"is '{}'; did you mean '{}'? Allowed: {}",
         "es '{=}'; ¿quiso decir '{=}'? Se permite: {=}"},
        {"'{}' is not a number; write plain digits, without a unit",
         "'{=}' no es un número; escriba solo cifras, sin unidad"},
        {"{} is out of range; write a number from {} to {}",
         "{=} está fuera de rango; escriba un número de {} a {}"},
        {"'{}' is not a whole number; write a whole number from {} to {}",
         "'{=}' no es un número entero; escriba un número entero de {} a {}"},
        {"'{}' is out of range; a value from {} to {} is expected; check digits and unit",
         "'{=}' está fuera de rango; se espera un valor de {=} a {=}; revise cifras y unidad"},
        {"'{}' has limits wider than any possible value; check the digits and the unit after +/-",
         "'{=}' tiene límites más amplios que cualquier valor posible; revise las cifras y la "
         "unidad "
         "después de +/-"},
        {"takes no limits; leave out '+/-' here", "no lleva límites; quite aquí '+/-'"},
        {"'{}' is not a date; write the day as {}",
         "'{=}' no es una fecha; escriba el día como {=}"},
        {"names '{}', and there is no such file; check the path: it starts from the folder of the "
         "file that names it",
         "indica '{=}', y ese archivo no existe; revise la ruta: empieza en la carpeta del archivo "
         "que lo indica"},
        {"gives one of target_height and mount_height without the other; measure both above the "
         "floor below them, or leave both out",
         "da una sola de target_height y mount_height; mida las dos sobre el piso de abajo, o "
         "quite "
         "las dos"},
        {"stands beside face_level; give the face once, in either way",
         "está junto a face_level; dé la cara una sola vez, de una de las dos maneras"},
        {"has reference points but no passes; add passes: {}",
         "tiene puntos de referencia pero ninguna pasada; agregue passes: {=}"},
        {"holds neither face_level nor passes; add what was read: face_level: 0.6 deg, or passes "
         "with left_point and right_point",
         "no tiene face_level ni passes; agregue lo que se leyó: face_level: 0.6 deg, o passes con "
         "left_point y right_point"},
        {"is more than 100 turns; check the number", "son más de 100 vueltas; revise el número"},
        {"is 'same' in the first sighting; describe the setup here",
         "es 'same' en la primera medición; describa aquí la colocación"},
        {"has neither photos nor tape_and_level; add what was measured at this stage",
         "no tiene photos ni tape_and_level; agregue lo que se midió en esta etapa"},
        {"'{}' comes after '{}'; the order is as-found, then adjusted any number of times, then "
         "as-left",
         "'{=}' viene después de '{=}'; el orden es as-found, luego adjusted cuantas veces haga "
         "falta, "
         "luego as-left"},
        {"has photos but no '{}'; add '{}:' with the path of its file",
         "tiene fotos pero no '{=}'; agregue '{=}:' con la ruta de su archivo"},
        {"has photos but no setup.distance; add 'setup: {distance: ...}' with the taped distance, "
         "or "
         "'setup: same'",
         "tiene fotos pero no setup.distance; agregue 'setup: {distance: ...}' con la distancia "
         "medida, o 'setup: same'"},
        {"the mount has no such screw; did you mean '{}'?",
         "el soporte no tiene ese tornillo; ¿quiso decir '{=}'?"},
        {"'{}' does not begin with a number of turns; {}",
         "'{=}' no empieza con un número de vueltas; {}"},
        {"'{}' has no direction; {}", "'{=}' no tiene sentido de giro; {}"},
        {"'{}' has no unit; {}", "'{=}' no tiene unidad; {}"},
        {"'{}' is in {}, which is no length; {}", "'{=}' está en {=}, que no es una longitud; {}"},
        {"'{}' is in {}, which is no angle; {}", "'{=}' está en {=}, que no es un ángulo; {}"},
        {"'{}' has the unknown unit '{}'; {}", "'{=}' tiene la unidad desconocida '{=}'; {}"},
        {"'{}' holds a special sign (such as a degree sign, a long minus or a fixed space); {}",
         "'{=}' tiene un signo especial (como un signo de grados, un menos largo o un espacio "
         "fijo); "
         "{}"},
        {"'{}' is not a number with a unit; {}", "'{=}' no es un número con unidad; {}"},
        {"'{}' has a comma in its number; write a decimal point",
         "'{=}' tiene una coma en su número; escriba un punto decimal"},
        {"'{}' mixes units; only feet and inches go together",
         "'{=}' mezcla unidades; solo pies y pulgadas van juntos"},
        {"'{}' has part of a foot beside its inches; write whole feet, such as 16 ft 4 1/2 in",
         "'{=}' tiene parte de un pie junto a sus pulgadas; escriba pies enteros, como 16 ft 4 1/2 "
         "in"},
        {"'{}' has 12 inches or more beside its feet; count each 12 as a foot",
         "'{=}' tiene 12 pulgadas o más junto a sus pies; cuente cada 12 como un pie"},
        {"'{}' has a negative limit; write +/- 3 mm",
         "'{=}' tiene un límite negativo; escriba +/- 3 mm"},
        {"'{}' is not a usable number; write it in plain digits",
         "'{=}' no es un número utilizable; escríbalo en cifras simples"},
        {"a fraction needs a whole number above zero under the bar; write it as 5/16",
         "una fracción necesita un número entero mayor que cero bajo la barra; escríbala como "
         "5/16"},
        {"decimals and a fraction do not go together; write 7.5 or 7 1/2",
         "decimales y fracción no van juntos; escriba 7.5 o 7 1/2"},
        {"two numbers stand side by side; write one number, or a fraction as 7 5/16",
         "hay dos números seguidos; escriba uno solo, o una fracción como 7 5/16"},
        {"the fraction is one or more; write it as 7 5/16",
         "la fracción vale uno o más; escríbala como 7 5/16"},
        {"there is no such file; check the path and the spelling",
         "no existe ese archivo; revise la ruta y cómo está escrita"},
        {"is a folder or a device; name a file",
         "es una carpeta o un dispositivo; indique un archivo"},
        {"is empty; was it copied completely?", "está vacío; ¿se copió completo?"},
        {"is too large ({} MiB); files of this kind stay under {} MiB",
         "es demasiado grande ({} MiB); los archivos así no pasan de {} MiB"},
        {"cannot be read; check its permissions", "no se puede leer; revise sus permisos"},
        {"cannot be written ({}); check the folder, its permissions and free space",
         "no se puede escribir ({=}); revise la carpeta, sus permisos y el espacio libre"},
        {"is a plain checkerboard without markers; name the file of a bay target; a checkerboard "
         "only "
         "serves to calibrate",
         "es un damero sin marcadores; indique el archivo de un panel del puesto; un damero solo "
         "sirve para calibrar"},
    };
    return list;
}

}  // namespace squaresight::bay
