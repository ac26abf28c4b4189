"""The words of the sheet in English."""
