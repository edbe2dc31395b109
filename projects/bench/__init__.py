"""What is taken to the board and to the loom: warping ticket, threading, weft sheet."""
