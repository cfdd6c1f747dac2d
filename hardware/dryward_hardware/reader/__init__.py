"""The reader: a small process that owns the sensors which may block, hang or take over signal handlers.

``client`` is what the main process holds, ``process`` is the program that minds one ``worker`` for each device,
``messages`` is what they say to each other.
"""
