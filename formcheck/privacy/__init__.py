"""Faces found and covered in pictures that leave the machine."""
