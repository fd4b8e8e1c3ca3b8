"""The page: the whole job in a browser, for someone who never opens a terminal.

A front end: it holds no geometry. What is long is done by a process of its own (`worker`), which
calls the same functions as the command line; what a person chose, and what came of it, lies in a
folder for each job (`jobs`), so that a reload, a second tab or a restart finds it where it was.
"""
