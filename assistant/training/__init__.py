"""The program that makes the ear's net again: texts and voices to a pool of clips, the pool to weights, the weights to a file.

An extra (`training`): torch and onnx are imported by `net`, `augment`, `steps` and `export` alone; everything else runs without them.
"""
