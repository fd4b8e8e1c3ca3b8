"""Stage 6, second half: does the piece go in, and along which way?"""
