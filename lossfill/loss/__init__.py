"""Stage 5: where is material missing, and what kind of loss is it?"""
