"""The languages that there are: each put together from its modules."""

from assistant.core import english, english_forms, numerals
from assistant.core.tongue import Tongue

ENGLISH = Tongue.of(english, numerals, english_forms)
TONGUES = {tongue.code: tongue for tongue in (ENGLISH,)}
