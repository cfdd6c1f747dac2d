"""dryward: runs a stepped meat-drying program, weighs every piece, and keeps the heat safe."""

__version__ = "0.1.0"
