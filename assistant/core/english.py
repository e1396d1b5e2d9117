"""The English of the bench: number words, unit words, commands, names of quantities, questions.

Tables only. Everything that is heard or said about numbers is built from these by `words`, `saying` and `grammar`, so another language is
another module of the same tables (`tongue` says which; docs: DEVELOPERS.md, "A language"). Spelling is British, as it is said and shown;
`SAME_WORD` maps what recognisers and keyboards write.
"""

from fractions import Fraction

CODE, NAME = "en", "English"

ONES = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "thirteen", "fourteen",
    "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
HUNDRED, THOUSAND, POINT, AND = "hundred", "thousand", "point", "and"
PLUS, MINUS = "plus", "minus"
# Understood in text only: as one vowel "oh" drowns in hum, so no grammar and no prompt holds it.
ZERO_IN_TEXT = ("oh", "o", "nought", "naught")
TWICE = {"double": 2, "triple": 3}
SIGNS = {"plus": 1, "positive": 1, "minus": -1, "negative": -1}
HALF = Fraction(1, 2)
# Part of a whole, as said after "and": "six and a half".
FRACTIONS = {"a half": HALF, "a quarter": Fraction(1, 4), "three quarters": Fraction(3, 4)}
# What asks for its unit, when there is none.
PART_WORDS = frozenset(("half", "quarter"))
# Part of one unit, as said before it: "half a thou", "three quarters of a thou".
FRACTIONS_OF_ONE = {
    "half a": HALF, "half an": HALF, "a half": HALF, "half": HALF, "half of a": HALF, "one half": HALF, "a quarter": Fraction(1, 4),
    "quarter": Fraction(1, 4), "a quarter of a": Fraction(1, 4), "quarter of a": Fraction(1, 4), "one quarter": Fraction(1, 4),
    "three quarters of a": Fraction(3, 4), "three quarters": Fraction(3, 4), "three quarter": Fraction(3, 4),
}  # fmt: skip

# The letters of a word, as a class of a regular expression; words that hold more than letters.
LETTERS, HYPHENATED = "a-z", "ten-thousandths?"
# Typed figures: with a comma they could be thousands or decimals, and are asked about.
FIGURES = r"\d+,\d+|\d+\.?\d*|\.\d+"
DECIMAL_MARK = "."
FRACTION_SIGNS = {"½": "a half", "1/2": "a half", "¼": "a quarter", "1/4": "a quarter", "¾": "three quarters", "3/4": "three quarters"}
INCH_SIGN = "inches"
ARTICLES = frozenset(("the",))

SAME_WORD = {
    "center": "centre", "millimeter": "millimetre", "millimeters": "millimetres", "meter": "metre", "meters": "metres",
    "micrometer": "micrometre", "micrometers": "micrometres", "runout": "run out", "thous": "thou", "that's": "that is",
}  # fmt: skip
# Units behind figures.
SHORT_SYMBOLS = {
    "in": "inches", "mm": "millimetres", "um": "microns", "n": "newtons", "nm": "newton metres", "cnm": "centinewton metres",
    "lb": "pounds", "lbs": "pounds", "lbf": "pounds", "kg": "kilograms", "kgf": "kilograms", "deg": "degrees",
}  # fmt: skip
# Symbols that hold more than letters; looked for before words are split.
SYMBOLS = {
    "lbf·in": "inch pounds", "lbf.in": "inch pounds", "lb-in": "inch pounds", "lb·in": "inch pounds", "lb.in": "inch pounds",
    "in-lb": "inch pounds", "in·lb": "inch pounds", "in.lb": "inch pounds", "lbf·ft": "foot pounds", "lbf.ft": "foot pounds",
    "lb-ft": "foot pounds", "lb·ft": "foot pounds", "lb.ft": "foot pounds", "ft-lb": "foot pounds", "ft·lb": "foot pounds",
    "ft.lb": "foot pounds", "cn·m": "centinewton metres", "cn.m": "centinewton metres", "n·m": "newton metres",
    "n.m": "newton metres", "n-m": "newton metres", "kgf·cm": "kilogram centimetres", "kgf.cm": "kilogram centimetres",
    "ozf·in": "ounce inches", "ozf.in": "ounce inches", "°": "degrees", "µm": "microns", "μm": "microns",
}  # fmt: skip
# What a general recogniser writes for "thou"; mended at inch steps only, and never a number word.
THOU_MISSPELT = {"though": "thou", "thousand": "thousandths", "thousands": "thousandths"}
FILLERS = frozenset(("um", "uh", "er", "erm", "please"))
# A number said together with one of these is a correction in one breath.
CORRECTIONS = frozenset(("no", "sorry", "wait", "correction", "actually", "oops", "rather", "scratch", "mean", "not", "make"))
# A thousandth of an inch to one shop, a millimetre to the next.
TWO_MEANINGS = frozenset(("mil", "mils"))

# Unit words → kind of unit. "tenth" and "hundredth" alone depend on the step; the others name one size.
UNIT_WORDS = {
    "thou": "thou", "thousandth": "thou", "thousandths": "thou", "thousandth of an inch": "thou", "thousandths of an inch": "thou",
    "tenth": "tenth", "tenths": "tenth", "tenth of a thou": "tenth", "tenths of a thou": "tenth", "tenth of a thousandth": "tenth",
    "tenths of a thousandth": "tenth", "tenth of an inch": "tenth of an inch", "tenths of an inch": "tenth of an inch",
    "tenth of a millimetre": "tenth of a millimetre", "tenths of a millimetre": "tenth of a millimetre",
    "hundredth": "hundredth", "hundredths": "hundredth", "hundredth of an inch": "hundredth of an inch",
    "hundredths of an inch": "hundredth of an inch", "hundredth of a millimetre": "0.01 mm", "hundredths of a millimetre": "0.01 mm",
    "thousandth of a millimetre": "0.001 mm", "thousandths of a millimetre": "0.001 mm", "micron": "0.001 mm", "microns": "0.001 mm",
    "micrometre": "0.001 mm", "micrometres": "0.001 mm", "ten-thousandth": "ten-thousandth", "ten-thousandths": "ten-thousandth",
    "ten-thousandth of an inch": "ten-thousandth", "ten-thousandths of an inch": "ten-thousandth",
    "inch": "in", "inches": "in", "millimetre": "mm", "millimetres": "mm", "centimetre": "cm", "centimetres": "cm",
    "inch pound": "lb-in", "inch pounds": "lb-in", "pound inch": "lb-in", "pound inches": "lb-in",
    "foot pound": "lb-ft", "foot pounds": "lb-ft", "pound foot": "lb-ft", "pound feet": "lb-ft",
    "newton metre": "N·m", "newton metres": "N·m", "newtonmetre": "N·m", "newtonmetres": "N·m", "centinewton metre": "cN·m",
    "centinewton metres": "cN·m", "kilogram centimetre": "kgf·cm", "kilogram centimetres": "kgf·cm", "ounce inch": "ozf·in",
    "ounce inches": "ozf·in", "newton": "N", "newtons": "N", "pound": "lbf", "pounds": "lbf", "kilogram": "kgf", "kilograms": "kgf",
    "degree": "deg", "degrees": "deg", "notch": "notch", "notches": "notch", "click": "notch", "clicks": "notch", "spline": "notch",
    "splines": "notch",
}  # fmt: skip
# Kinds of unit that are one size at an inch step and another at a millimetre step: English has none that it does not ask about.
KINDS_BY_STEP: dict[str, dict[str, str]] = {}
# "one hundred ten thousandths" is 110 thousandths, or 100 ten-thousandths; a bare "ten thousandths" is always ten of them.
TEN_THOUSANDTH_ENDS, TEN_THOUSANDTH_UNITS, TEN_ALONE_IS_CLEAR = frozenset(("hundred", "ten")), ("thousandth",), True
NO_NOTCHES = frozenset(("no notches", "no clicks", "no splines"))
# One and many, as said aloud. "thousandths" is said, not "thou": synthesisers say that one like "thy".
UNITS_SAID = {
    "in": ("inch", "inches"), "thou": ("thousandth", "thousandths"), "tenth": ("tenth", "tenths"), "mm": ("millimetre", "millimetres"),
    "0.001 in": ("thousandth", "thousandths"), "0.01 mm": ("hundredth of a millimetre", "hundredths of a millimetre"),
    "0.001 mm": ("thousandth of a millimetre", "thousandths of a millimetre"), "um": ("micron", "microns"),
    "lb-in": ("inch pound", "inch pounds"), "lb-ft": ("foot pound", "foot pounds"), "N·m": ("newton metre", "newton metres"),
    "cN·m": ("centinewton metre", "centinewton metres"), "kgf·cm": ("kilogram centimetre", "kilogram centimetres"),
    "ozf·in": ("ounce inch", "ounce inches"), "N": ("newton", "newtons"), "lbf": ("pound", "pounds"), "kgf": ("kilogram", "kilograms"),
    "deg": ("degree", "degrees"), "notch": ("notch", "notches"), "1": ("", ""),
}  # fmt: skip
# What a step "is in", for the question about a foreign unit.
STEP_UNITS = {
    "0.001 in": "thousandths of an inch", "0.01 mm": "hundredths of a millimetre", "0.001 mm": "thousandths of a millimetre",
    "1": "plain numbers",
}  # fmt: skip
KINDS_SAID = {
    "thou": "thousandths of an inch", "tenth": "tenths of a thousandth", "hundredth": "hundredths", "cm": "centimetres",
    "hundredth of an inch": "hundredths of an inch", "tenth of an inch": "tenths of an inch",
    "tenth of a millimetre": "tenths of a millimetre", "0.01 mm": "hundredths of a millimetre",
    "0.001 mm": "thousandths of a millimetre", "ten-thousandth": "ten-thousandths", "tenth alone": "tenths",
}  # fmt: skip
# What makes "thousandths" a full unit, when a number was heard without any.
OF_AN_INCH = " of an inch"
# "four tenths of a thousandth", not "zero point four thousandths"; "point zero zero six five", not "zero point …".
TENTHS_ARE_NAMED, ZERO_BEFORE_POINT = True, False
TO, OR = "to", "or"

# The words of the interface: the name first, then what means the same.
COMMANDS = {
    "done": ("done", "next", "ready"), "take": ("take",), "yes": ("yes", "that is right"), "no": ("no", "wrong", "measure again"),
    "understood": ("understood",), "repeat": ("repeat", "say again"), "why": ("why",), "what do you have": ("what do you have",),
    "what have you learned": ("what have you learned",),
    "help": ("help",), "undo": ("undo",), "go back": ("go back", "back"), "correct": ("correct",), "hold": ("hold", "mute"),
    "resume": ("resume",), "stop": ("stop",), "same": ("same", "same again"), "change unit": ("change unit",),
    "zero the gauge": ("zero the gauge",),
}  # fmt: skip
GO_BACK_TO = "go back to"
# A gauge was switched to another unit: how that is understood, and how it is said and listened for.
UNIT_CHANGE = r"change (?:the )?units?(?: of (?:the )?(?P<gauge>.+?))? to (?P<unit>.+)"
UNIT_CHANGES_SAID = ("change unit to {unit}", "change unit of the {gauge} to {unit}")
# The gauges of the interface by their channels, as they are said.
GAUGES = {"dial": "dial", "torque": "torque gauge", "caliper": "caliper", "micrometer": "micrometer", "depth": "depth gauge"}
# "go back to" names a step by its id.
STEPS_BY_TITLE = False
# What wakes the ear.
WAKING = ("wake up", "resume")
# The confirm grammar is given to the word, so that nothing near a yes or a no is added to it.
NOT_HEARD_AT_CONFIRM = frozenset(("say again", "mute"))

# How each quantity is named: first as we say it, then what is understood as well.
QUANTITY_NAMES = {
    "etch_old": ("old mark", "old pinion mark", "old etch", "etch old"),
    "etch_new": ("new mark", "new pinion mark", "new etch", "etch new"),
    "pinion_drag": ("pinion drag", "pinion preload"),
    "seal_drag": ("seal drag",),
    "pinion_depth": ("pinion depth", "depth"),
    "bore_diameter": ("bore diameter",),
    "plane_to_bore": ("plane to bore",),
    "shim_thickness": ("shim thickness",),
    "stack_thickness": ("stack thickness",),
    "old_stack_thickness": ("old stack thickness",),
    "ring_runout": ("ring gear run out", "ring run out", "run out"),
    "backlash": ("backlash",),
    "carrier_drag": ("carrier drag",),
    "total_drag": ("total drag",),
    "spread": ("cap spread", "spread", "case spread"),
    "nut_torque": ("nut torque",),
    "cap_torque": ("cap torque",),
    "baseline_backlash": ("backlash before teardown", "baseline backlash"),
    "baseline_total_drag": ("total drag before teardown", "baseline total drag"),
    "pattern_drive": ("drive pattern", "pattern drive"),
    "pattern_coast": ("coast pattern", "pattern coast"),
    "angle": ("angle",),
    "notches": ("notches",),
}
PATTERN_LENGTHWISE = ("toe", "centre", "heel")
PATTERN_DEPTHWISE = ("root", "middle", "tip")
PATTERN_UNCLEAR = "unclear"
ALARM_CHOICES = ("nothing found", "measure again")
NEITHER = "neither"
ONE_OF_TWO = ("first", "second", NEITHER)

# The form that a question teaches, per unit of the step; lengths over a tenth of an inch are said in inches.
EXAMPLES = {
    "in": "six point five thousandths", "mm": "zero point one four", "lb-in": "one eight inch pounds", "lb-ft": "one two five foot pounds",
    "N·m": "two point one newton metres", "deg": "nine zero degrees", "notch": "three notches", "1": "three seven",
    "0.001 in": "plus two, or minus three", "0.01 mm": "plus five, or minus three", "0.001 mm": "plus ten, or minus thirty",
}  # fmt: skip
EXAMPLES_DIGITS = {"in": "point zero zero six five"}
EXAMPLES_LONG = {"in": "two point six two five zero inches", "mm": "sixty six point six eight millimetres"}
EXAMPLE_OTHER = "three point five {unit}"

# {heard}: what was said; {step}: the unit of the step; {expects}: what can be answered, with the coached form.
QUESTIONS = {
    "nothing": "I heard no words; I expect {expects}.",
    "not understood": "I did not understand {heard}; I expect {expects}.",
    "not now": "I heard {heard}, but now I expect {expects}.",
    "not a yes": "Saying the value again is not a yes; say {expects}.",
    "other unit": "I heard {said}, but this step is in {step}, and nothing is stored; say it in {step}, such as {example}.",
    "off by ten": "I heard {said}, but this step is in {step}, and nothing is stored; say it in full, such as {example}.",
    "bare number": "I heard {heard} without its unit; say it in full, such as {example}.",
    "fixed length": "I heard {heard}; {length}, please, such as {example}.",
    "run-on": "I heard {heard}, which can be more than one number; say it digit by digit, or in full, such as {example}.",
    "half alone": "I heard {heard} without its unit; say it in full, such as {example}.",
    "correction": "I heard a correction, {heard}, and took none of it; say only the value, such as {example}.",
    "no sign": "I heard {heard} without its sign; say plus or minus, such as {example}.",
    "too fine": "I heard {heard}, which is finer than any gauge shows; say it again, such as {example}.",
    "two numbers": "I heard {heard}, which is more than one number; say one value, such as {example}.",
    "decimal comma": "I see a comma inside a number; write a point, and give it as {expects}.",
    "two meanings": "A mil is a thousandth of an inch to some and a millimetre to others; say it in {step}, such as {example}.",
    "ten-thousandths": "I heard {heard}, which can be thousandths or tenths of one; say it digit by digit, such as {example}.",
    "tenths": "I heard {heard}; one to nine tenths only, else say it in thousandths, such as {example}.",
    "which quantity": "I heard {heard}; say which reading to correct, such as correct {name}.",
    "which unit": "I heard {heard}; say which unit the gauge shows now, such as change unit to millimetres.",
    "which step": "I heard {heard}; say which step to go back to: {steps}.",
}
LENGTH_WANTED = {"in": "four digits after the point", "mm": "a number, point, and two digits", "lb-in": "two digits",
                 "N·m": "a number, point, and one digit"}  # fmt: skip
WHOLE_NUMBER = "the whole number"
# What can be answered: a reading by its name, or whatever else is waited for.
EXPECTS_READING, THE, A_READING = "{name} in {unit}, such as {example}", "the {name}", "a reading"
EXPECTS = {
    "yes": "that is right, or measure again",
    "understood": "the word understood",
    "done": "the word done",
    "resume": "the word resume",
}
NOTHING_NOW, NO_STEPS, SOMETHING_ELSE = "nothing now", "none that is done", "something else"
