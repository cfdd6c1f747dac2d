"""The keeper: a tiny process that alone drives the output lines and drops them to their safe state by itself.

``rules`` decides (pure), ``process`` is the program, ``client`` is what the main process holds,
``in_process`` applies the same rules to simulated outputs, ``pins`` talks to
gpiozero, ``memory`` and ``trace`` are its files, ``open_outputs`` makes the lines safe when everything else is gone.
"""
