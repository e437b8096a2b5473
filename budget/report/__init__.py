"""How it is shown: one self-contained page, one file a figure; the only door for plotly."""
