"""bone"""
