"""Das Deutsch der Werkbank: the German of the bench, as `english` has the English. Tables only; `tongue` says what each is for.

Words are written as they are shown, nouns with their capital; whatever is looked up is folded first (small letters, ä for a decomposed ä,
"fünf" for "fuenf"). The trade's words are those of German workshop manuals, common practice, no source; the terms of the gears (Zahnflankenspiel,
Zugflanke, Zahnfuß, Zahnkopf) are those of DIN 3971 and DIN 3998, from memory.
"""

from fractions import Fraction

CODE, NAME = "de", "German"

ONES = (
    "null", "eins", "zwei", "drei", "vier", "fünf", "sechs", "sieben", "acht", "neun", "zehn", "elf", "zwölf", "dreizehn", "vierzehn",
    "fünfzehn", "sechzehn", "siebzehn", "achtzehn", "neunzehn",
)  # fmt: skip
TENS = ("", "", "zwanzig", "dreißig", "vierzig", "fünfzig", "sechzig", "siebzig", "achtzig", "neunzig")
HUNDRED, THOUSAND, POINT, AND = "hundert", "tausend", "Komma", "und"
PLUS, MINUS = "plus", "minus"
# "zwo" is said where "zwei" and "drei" are hard to tell apart; understood in text only, like the "ein" of a count.
TWO_IN_TEXT = "zwo"
SIGNS = {"plus": 1, "minus": -1}
_HALVES = ("ein halb", "ein halbes", "ein halber", "eine halbe", "einen halben")
# Part of a whole, as said after "und": "sechs und ein halb".
FRACTIONS = {**dict.fromkeys(_HALVES, Fraction(1, 2)), "ein viertel": Fraction(1, 4), "drei viertel": Fraction(3, 4)}
# Part of one unit, as said before it: "ein halbes Tausendstel Zoll".
FRACTIONS_OF_ONE = {**FRACTIONS, **dict.fromkeys(("halb", "halbes", "halber", "halbe", "halben"), Fraction(1, 2)), "viertel": Fraction(1, 4),
                    "einhalb": Fraction(1, 2),
                    "dreiviertel": Fraction(3, 4)}  # fmt: skip
PART_WORDS = frozenset(("halb", "halbes", "halber", "halbe", "halben", "viertel", "dreiviertel", "einhalb"))

LETTERS, HYPHENATED = "a-zäöüß", "(?!)"
# A comma is the decimal mark. A point is taken for one only where it can be no thousands' point: "0.20", "12.5"; "1.234" is asked about.
FIGURES = r"\d[\d.,]*[.,]\d+|\d+\.?|[.,]\d+"
DECIMAL_MARK = ","
FRACTION_SIGNS = {"½": "ein halb", "1/2": "ein halb", "¼": "ein viertel", "1/4": "ein viertel", "¾": "drei viertel", "3/4": "drei viertel"}
INCH_SIGN = "zoll"
ARTICLES = frozenset(("der", "die", "das", "den", "dem"))
SAME_WORD = {
    "stop": "stopp", "zurueck": "zurück", "rueckgaengig": "rückgängig", "pruefen": "prüfen", "fusspfund": "fußpfund", "fuss": "fuß",
    "zoelle": "zoll", "zum": "zu", "zur": "zu", "mü": "mikrometer", "millimetern": "millimeter", "newtonmetern": "newtonmeter",
    "uebernehmen": "übernehmen", "hoer": "hör",
}  # fmt: skip
# Units behind figures.
SHORT_SYMBOLS = {
    "in": "zoll", "mm": "millimeter", "um": "mikrometer", "n": "newton", "nm": "newtonmeter", "cnm": "zentinewtonmeter", "lb": "pfund",
    "lbs": "pfund", "lbf": "pfund", "kg": "kilogramm", "kgf": "kilogramm", "kp": "kilogramm", "deg": "grad",
}  # fmt: skip
_LB_IN = ("lbf·in", "lbf.in", "lb-in", "lb·in", "lb.in", "in-lb", "in·lb", "in.lb")
_LB_FT = ("lbf·ft", "lbf.ft", "lb-ft", "lb·ft", "lb.ft", "ft-lb", "ft·lb", "ft.lb")
SYMBOLS = {
    **dict.fromkeys(_LB_IN, "zollpfund"), **dict.fromkeys(_LB_FT, "fußpfund"), **dict.fromkeys(("cn·m", "cn.m"), "zentinewtonmeter"),
    **dict.fromkeys(("n·m", "n.m", "n-m"), "newtonmeter"), **dict.fromkeys(("kgf·cm", "kgf.cm"), "kilogrammzentimeter"),
    **dict.fromkeys(("ozf·in", "ozf.in"), "unzenzoll"), "°": "grad", "µm": "mikrometer", "μm": "mikrometer",
}  # fmt: skip
# What a general recogniser may write for a unit at an inch step: nothing is known of German ones.
THOU_MISSPELT: dict[str, str] = {}
FILLERS = frozenset(("äh", "ähm", "hm", "öh", "bitte", "also"))
# A number said together with one of these is a correction in one breath.
CORRECTIONS = frozenset(("nein", "sorry", "entschuldigung", "moment", "korrektur", "halt", "doch", "quatsch", "falsch", "vielmehr", "meine",
                         "nicht", "sondern", "statt", "ne", "nee"))  # fmt: skip
# A "Strich" is one mark of the scale: what it counts differs from dial to dial.
TWO_MEANINGS = frozenset(("mil", "mils", "strich", "striche", "teilstrich", "teilstriche"))

# Unit words → kind of unit. A bare "Tausendstel", "Hundertstel" or "Zehntel" depends on the step.
UNIT_WORDS = {
    "tausendstel": "thousandth", "tausendstel zoll": "thou", "tausendstelzoll": "thou", "thou": "thou", "tausendstel millimeter": "0.001 mm",
    "mikrometer": "0.001 mm", "mikron": "0.001 mm", "hundertstel": "hundredth", "hundertstel millimeter": "0.01 mm",
    "hundertstelmillimeter": "0.01 mm", "hundertstel zoll": "hundredth of an inch", "zehntel": "tenth part", "zehntel millimeter": "0.1 mm",
    "zehntelmillimeter": "0.1 mm", "zehntel zoll": "tenth of an inch", "zehntausendstel": "ten-thousandth",
    "zehntausendstel zoll": "ten-thousandth", "zoll": "in", "inch": "in", "millimeter": "mm", "zentimeter": "cm",
    **dict.fromkeys(("zollpfund", "zoll pfund", "pfundzoll", "pfund zoll", "inch pound", "inch pounds"), "lb-in"),
    **dict.fromkeys(("fußpfund", "fuß pfund", "pfundfuß", "pfund fuß", "foot pound", "foot pounds"), "lb-ft"),
    "newtonmeter": "N·m", "newton meter": "N·m", "zentinewtonmeter": "cN·m", "kilogrammzentimeter": "kgf·cm", "unzenzoll": "ozf·in",
    "newton": "N", "pfund": "lbf", "kilogramm": "kgf", "kilo": "kgf", "kilopond": "kgf", "grad": "deg", "raste": "notch", "rasten": "notch",
    "kerbe": "notch", "kerben": "notch", "klick": "notch", "klicks": "notch",
}  # fmt: skip
# A German bench counts in parts of a millimetre; at an inch step a bare "Tausendstel" can only be one of an inch, the others are off by ten.
KINDS_BY_STEP = {
    "thousandth": {"in": "thou", "mm": "0.001 mm"},
    "tenth part": {"in": "tenth of an inch", "mm": "0.1 mm"},
}
# "zehn Tausendstel" and "Zehntausendstel", "vierzehn Tausendstel" and "vier Zehntausendstel" sound alike.
TEN_THOUSANDTH_ENDS, TEN_THOUSANDTH_UNITS, TEN_ALONE_IS_CLEAR = frozenset(("zehn", "hundert", "tausend")), ("tausendstel",), False
NO_NOTCHES = frozenset(("keine rasten", "keine raste", "keine kerben", "keine klicks"))
# One and many, as said aloud. "Tausendstel" is never said alone: it is one of an inch in one shop, one of a millimetre in the next.
UNITS_SAID = {
    "in": ("Zoll", "Zoll"), "thou": ("Tausendstel Zoll", "Tausendstel Zoll"), "tenth": ("Zehntausendstel Zoll", "Zehntausendstel Zoll"),
    "mm": ("Millimeter", "Millimeter"), "0.001 in": ("Tausendstel Zoll", "Tausendstel Zoll"),
    "0.01 mm": ("Hundertstel Millimeter", "Hundertstel Millimeter"), "0.001 mm": ("Tausendstel Millimeter", "Tausendstel Millimeter"),
    "um": ("Mikrometer", "Mikrometer"), "lb-in": ("Zollpfund", "Zollpfund"), "lb-ft": ("Fußpfund", "Fußpfund"),
    "N·m": ("Newtonmeter", "Newtonmeter"), "cN·m": ("Zentinewtonmeter", "Zentinewtonmeter"),
    "kgf·cm": ("Kilogrammzentimeter", "Kilogrammzentimeter"), "ozf·in": ("Unzenzoll", "Unzenzoll"), "N": ("Newton", "Newton"),
    "lbf": ("Pfund", "Pfund"), "kgf": ("Kilogramm", "Kilogramm"), "deg": ("Grad", "Grad"), "notch": ("Raste", "Rasten"), "1": ("", ""),
}  # fmt: skip
# The units with "eine" before them, and how half of one is said; the others have "ein".
FEMININE = frozenset(("Raste",))
STEP_UNITS = {"0.001 in": "Tausendstel Zoll", "0.01 mm": "Hundertstel Millimeter", "0.001 mm": "Tausendstel Millimeter",
              "1": "Zahlen ohne Einheit"}  # fmt: skip
KINDS_SAID = {
    "thou": "Tausendstel Zoll", "tenth": "Zehntausendstel Zoll", "tenth alone": "Zehntel", "hundredth": "Hundertstel", "cm": "Zentimeter",
    "hundredth of an inch": "Hundertstel Zoll", "tenth of an inch": "Zehntel Zoll", "tenth of a millimetre": "Zehntel Millimeter",
    "0.1 mm": "Zehntel Millimeter", "0.01 mm": "Hundertstel Millimeter", "0.001 mm": "Tausendstel Millimeter",
    "ten-thousandth": "Zehntausendstel", "thousandth": "Tausendstel", "tenth part": "Zehntel",
}  # fmt: skip
OF_AN_INCH = ""
TENTHS_ARE_NAMED, ZERO_BEFORE_POINT = False, True
TO, OR = "bis", "oder"

# The words of the interface: the name first, then how it is said in German.
COMMANDS = {
    "done": ("fertig", "weiter", "bereit"), "take": ("übernehmen", "nimm"), "yes": ("ja", "das stimmt"),
    "no": ("nein", "falsch", "noch einmal messen"), "understood": ("verstanden",), "repeat": ("wiederholen", "wie war das"), "why": ("warum",),
    "what do you have": ("was hast du",), "what have you learned": ("was hast du gelernt",),
    "help": ("Hilfe",), "undo": ("rückgängig", "zurücknehmen"), "go back": ("zurück", "geh zurück"),
    "correct": ("korrigiere", "berichtige"), "hold": ("Pause", "stumm"), "resume": ("fortsetzen", "hör zu"), "stop": ("stopp", "halt"),
    "same": ("dasselbe", "dasselbe noch einmal"), "change unit": ("Einheit wechseln",), "zero the gauge": ("Messgerät nullen",),
}  # fmt: skip
GO_BACK_TO = "zurück zu"
STEPS_BY_TITLE = True
UNIT_CHANGE = r"einheit(?: (?:von der|von dem|vom|von|der|des) (?P<gauge>.+?))?(?: wechseln)? (?:auf|zu|in) (?P<unit>.+)"
UNIT_CHANGES_SAID = ("einheit wechseln auf {unit}", "einheit von {gauge} wechseln auf {unit}")
GAUGES = {"dial": "Messuhr", "torque": "Drehmomentmesser", "caliper": "Messschieber", "micrometer": "Messschraube", "depth": "Tiefenmaß"}
WAKING = ("aufwachen", "fortsetzen")
NOT_HEARD_AT_CONFIRM = frozenset(("wie war das", "stumm"))

# How each quantity is named: first as we say it, then what is understood as well.
QUANTITY_NAMES = {
    "etch_old": ("alte Ritzelmarke", "Marke des alten Ritzels", "alte Marke"),
    "etch_new": ("neue Ritzelmarke", "Marke des neuen Ritzels", "neue Marke"),
    "pinion_drag": ("Reibmoment des Ritzels", "Ritzelreibmoment", "Reibmoment Ritzel"),
    "seal_drag": ("Reibmoment des Dichtrings", "Reibmoment Dichtring"),
    "pinion_depth": ("Einstelltiefe", "Einstelltiefe des Ritzels", "Ritzeltiefe", "Tiefe"),
    "bore_diameter": ("Bohrungsdurchmesser", "Durchmesser der Bohrung"),
    "plane_to_bore": ("Ebene bis Bohrung", "Teilungsebene bis Bohrungsgrund"),
    "shim_thickness": ("Scheibendicke",),
    "stack_thickness": ("Dicke des Scheibenpakets", "Paketdicke"),
    "old_stack_thickness": ("Dicke des alten Scheibenpakets", "alte Paketdicke"),
    "ring_runout": ("Planlauf des Tellerrads", "Planlauf"),
    "backlash": ("Zahnflankenspiel", "Flankenspiel", "Spiel"),
    "carrier_drag": ("Reibmoment des Ausgleichsgehäuses", "Reibmoment Gehäuse"),
    "total_drag": ("Gesamtreibmoment",),
    "spread": ("Aufweitung", "Aufweitung der Lagerdeckel"),
    "nut_torque": ("Drehmoment der Mutter", "Drehmoment der Ritzelmutter", "Mutterdrehmoment"),
    "cap_torque": ("Drehmoment der Lagerdeckel", "Deckeldrehmoment"),
    "baseline_backlash": ("Zahnflankenspiel vor dem Zerlegen",),
    "baseline_total_drag": ("Gesamtreibmoment vor dem Zerlegen",),
    "pattern_drive": ("Tragbild Zugflanke", "Tragbild der Zugflanke", "Zugflanke"),
    "pattern_coast": ("Tragbild Schubflanke", "Tragbild der Schubflanke", "Schubflanke"),
    "angle": ("Winkel",),
    "notches": ("Rasten",),
}

# The form that a question teaches, per unit of the step.
EXAMPLES = {
    "in": "sechs Komma fünf Tausendstel Zoll", "mm": "null Komma eins vier", "lb-in": "eins acht Zollpfund",
    "lb-ft": "eins zwei fünf Fußpfund", "N·m": "zwei Komma eins Newtonmeter", "deg": "neun null Grad", "notch": "drei Rasten",
    "1": "drei sieben", "0.001 in": "plus zwei, oder minus drei", "0.01 mm": "plus fünf, oder minus drei",
    "0.001 mm": "plus zehn, oder minus dreißig",
}  # fmt: skip
EXAMPLES_DIGITS = {"in": "null Komma null null sechs fünf"}
EXAMPLES_LONG = {"in": "zwei Komma sechs zwei fünf null Zoll", "mm": "sechsundsechzig Komma sechs acht Millimeter"}
EXAMPLE_OTHER = "drei Komma fünf {unit}"

# {heard}: what was said; {step}: the unit of the step; {expects}: what can be answered, with the coached form.
QUESTIONS = {
    "nothing": "Kein Wort gehört; erwartet: {expects}.",
    "not understood": "Nicht verstanden: {heard}; erwartet: {expects}.",
    "not now": "Gehört: {heard}; jetzt erwartet: {expects}.",
    "not a yes": "Den Wert noch einmal sagen ist kein Ja; erwartet: {expects}.",
    "other unit": "Gehört: {said}; dieser Schritt zählt in {step}, nichts ist gespeichert; bitte in {step} sagen, zum Beispiel {example}.",
    "off by ten": "Gehört: {said}; dieser Schritt zählt in {step}, nichts ist gespeichert; bitte vollständig sagen, zum Beispiel {example}.",
    "bare number": "Gehört: {heard}, ohne Einheit; bitte vollständig sagen, zum Beispiel {example}.",
    "fixed length": "Gehört: {heard}; bitte {length}, zum Beispiel {example}.",
    "run-on": "Gehört: {heard}; das kann mehr als eine Zahl sein; bitte Ziffer für Ziffer oder vollständig, zum Beispiel {example}.",
    "half alone": "Gehört: {heard}, ohne Einheit; bitte vollständig sagen, zum Beispiel {example}.",
    "correction": "Gehört: eine Berichtigung, {heard}; nichts davon ist übernommen; bitte nur den Wert, zum Beispiel {example}.",
    "no sign": "Gehört: {heard}, ohne Vorzeichen; bitte mit plus oder minus, zum Beispiel {example}.",
    "too fine": "Gehört: {heard}; feiner, als ein Messgerät anzeigt; bitte noch einmal, zum Beispiel {example}.",
    "two numbers": "Gehört: {heard}; mehr als eine Zahl; bitte nur einen Wert, zum Beispiel {example}.",
    "decimal comma": "Der Punkt in dieser Zahl kann Tausender trennen oder ein Komma sein; bitte mit Komma schreiben, und zwar {expects}.",
    "two meanings": "Ein Strich zählt auf jeder Messuhr anders; bitte in {step} sagen, zum Beispiel {example}.",
    "ten-thousandths": "Gehört: {heard}; das können Tausendstel oder Zehntausendstel sein; bitte Ziffer für Ziffer, zum Beispiel {example}.",
    "tenths": "Gehört: {heard}; bitte in Tausendstel Zoll sagen, zum Beispiel {example}.",
    "which quantity": "Gehört: {heard}; welcher Messwert ist zu berichtigen? Zum Beispiel: korrigiere {name}.",
    "which unit": "Gehört: {heard}; welche Einheit zeigt das Messgerät jetzt? Zum Beispiel: Einheit wechseln auf Millimeter.",
    "which step": "Gehört: {heard}; zu welchem Schritt zurück? {steps}.",
}
LENGTH_WANTED = {"in": "vier Ziffern nach dem Komma", "mm": "eine Zahl, Komma und zwei Ziffern", "lb-in": "zwei Ziffern",
                 "N·m": "eine Zahl, Komma und eine Ziffer"}  # fmt: skip
WHOLE_NUMBER = "die ganze Zahl"
EXPECTS_READING, THE, A_READING = "{name} in {unit}, zum Beispiel {example}", "{name}", "ein Messwert"
EXPECTS = {
    "yes": "das stimmt, oder noch einmal messen",
    "understood": "das Wort verstanden",
    "done": "das Wort fertig",
    "resume": "das Wort fortsetzen",
}
NOTHING_NOW, NO_STEPS, SOMETHING_ELSE = "jetzt nichts", "noch ist keiner fertig", "etwas anderes"
