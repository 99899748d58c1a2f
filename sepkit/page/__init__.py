"""The page: the whole job in a browser, served to this machine only.

``server.serve`` is the door. It calls the workshop and nothing below it; what is heavy runs in a process of its own.
"""
