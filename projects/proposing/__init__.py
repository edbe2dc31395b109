"""The proposal of who should have which cone, over the whole studio: gathered, worked out, said in words, accepted."""
