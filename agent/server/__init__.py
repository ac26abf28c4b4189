"""The operator's side: card, download, upload, reflector."""
