"""Stage 4: what did the whole vessel look like?"""
