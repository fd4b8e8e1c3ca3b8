"""Stage 2: what solid is really there?"""
