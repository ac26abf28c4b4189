"""The words of the sheet in German."""
