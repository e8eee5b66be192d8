"""Tepal: records, mixing, trials and statistics for plant growth regulators in greenhouses."""

__version__ = "0.1.0"
