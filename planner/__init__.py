"""Plans a ward blood-collection round: tube sets, bed visits and a printable round sheet."""

__version__ = "0.1.0"
