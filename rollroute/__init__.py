"""Routes for power wheelchairs in an emergency: can this chair drive the way, on this charge, and what is not known."""

__version__ = "0.1.0"
