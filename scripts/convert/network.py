"""A network as it was published, in the words of TFLite: its operators, options and layouts.

Pictures are NHWC. Weights of CONV_2D are [out, height, width, in], of DEPTHWISE_CONV_2D
[1, height, width, channels], of FULLY_CONNECTED [out, in].
"""

from dataclasses import dataclass


@dataclass
class Tensor:
    shape: list
    values: object  # a numpy array for a constant, None for a computed tensor


@dataclass
class Operator:
    kind: str
    inputs: list  # tensor numbers
    outputs: list
    options: dict


@dataclass
class Network:
    tensors: list
    operators: list  # in an order in which they can be run
    inputs: list
    outputs: list
