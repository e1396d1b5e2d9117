"""The languages that there are: each put together from its modules."""

from assistant.core import english, english_forms, german, german_forms, german_numerals, numerals
from assistant.core.tongue import Tongue

ENGLISH = Tongue.of(english, numerals, english_forms)
GERMAN = Tongue.of(german, german_numerals, german_forms)
TONGUES = {tongue.code: tongue for tongue in (ENGLISH, GERMAN)}
