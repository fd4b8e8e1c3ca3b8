"""Stage 3: where is the axis, which way is up, where are rim and foot?"""
