"""The dossier: an evaluation and its input bytes as HTML and PDF. Nothing is computed here, only rounded for print."""
