"""One file a figure: plain numbers in, a titled section out."""
