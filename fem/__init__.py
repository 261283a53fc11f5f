"""Meshes, harmonic elasticity, beams and solves: arrays in, arrays out, no anatomical word."""
