"""The real adapters behind the ports, one file per means and system."""
