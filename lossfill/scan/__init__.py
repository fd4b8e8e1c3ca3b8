"""Stage 1: what is in the file, and in which unit?"""
