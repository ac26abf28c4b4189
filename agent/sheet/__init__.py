"""Record to one-page view model to terminal, HTML and PDF; the only place that rounds."""
