"""Meshes, harmonic elasticity, rods and solves: arrays in, arrays out, no anatomical word."""
