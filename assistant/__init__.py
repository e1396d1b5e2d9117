"""A hands-free bench assistant for setting up a differential ring gear and pinion."""

__version__ = "0.1.0"
