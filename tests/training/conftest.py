"""The steps themselves need torch, which is no part of the tests: with it (`pip install '.[training]'`) they run as well."""

import importlib.util

collect_ignore = [] if importlib.util.find_spec("torch") and importlib.util.find_spec("onnx") else ["test_steps.py"]
