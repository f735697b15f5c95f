"""brinebayes: what to check or repair next on a household water softener, and why."""

__version__ = "0.1.0"
