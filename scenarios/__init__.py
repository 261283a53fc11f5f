"""scenarios"""
