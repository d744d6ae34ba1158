"""Reads a graph model of TensorFlow.js as a network.Network, up to given nodes.

A graph model is a JSON file with the nodes of the graph, in no particular order, and a
list of the constants; their values lie one after the other in a second file. Shapes of
what is computed are not written and follow from the operators.
"""

import base64
import json
import os

import numpy as np

from network import Network, Operator, Tensor

KINDS = {
    "AddV2": "ADD",
    "DepthwiseConv2dNative": "DEPTHWISE_CONV_2D",
    "FusedDepthwiseConv2dNative": "DEPTHWISE_CONV_2D",
    "Mul": "MULTIPLY",
    "ResizeBilinear": "RESIZE_BILINEAR",
    "Sigmoid": "LOGISTIC",
    "Sub": "SUBTRACT",
    "_FusedConv2D": "CONV_2D",
}

# Before the first sum the picture changes its type, and its batch of one is taken apart and
# put together again: values and their order stay as they are.
UNCHANGED = {"Cast", "ExpandDims", "Squeeze", "Unpack"}

FUSED = {(): "NONE", ("BiasAdd",): "NONE", ("BiasAdd", "Relu"): "RELU", ("BiasAdd", "Relu6"): "RELU6"}


def load(path, output_nodes):
    """Reads the graph from its picture to the named nodes, which become its outputs."""
    with open(path, encoding="utf-8") as file:
        model = json.load(file)
    return _Reader(model, _constants(model, os.path.dirname(path))).network(output_nodes)


def _constants(model, folder):
    """Returns {name: array}. 16-bit floats, which the source widens at run time, stay as they are."""
    constants = {}
    for group in model["weightsManifest"]:
        data = b"".join(open(os.path.join(folder, part), "rb").read() for part in group["paths"])
        start = 0
        for entry in group["weights"]:
            kind = np.dtype(entry.get("quantization", entry)["dtype"])
            values = np.frombuffer(data, kind, int(np.prod(entry["shape"])), start)
            constants[entry["name"]] = values.reshape(entry["shape"])
            start += values.nbytes
        if start != len(data):
            raise ValueError(f"{len(data) - start} bytes are left behind the constants")
    return constants


class _Reader:
    def __init__(self, model, constants):
        self.nodes = {node["name"]: node for node in model["modelTopology"]["node"]}
        self.constants = constants
        self.tensors = []
        self.operators = []
        self.numbers = {}  # of the tensors, by the name of their node
        self.pictures = []

    def network(self, output_nodes):
        outputs = [self.tensor(name) for name in output_nodes]
        return Network(self.tensors, self.operators, self.pictures, outputs)

    def tensor(self, name):
        """Returns the number of a node's tensor; all that it needs is read first."""
        if name not in self.numbers:
            self.numbers[name] = self.read(self.nodes[name])
        return self.numbers[name]

    def add(self, shape, values=None):
        self.tensors.append(Tensor(list(shape), values))
        return len(self.tensors) - 1

    def read(self, node):
        op = node["op"]
        if op == "Const":
            values = self.constants[node["name"]]
            return self.add(values.shape, values)
        if op == "Placeholder":
            self.pictures.append(self.add(int(d["size"]) for d in node["attr"]["shape"]["shape"]["dim"]))
            return self.pictures[-1]
        if op in UNCHANGED:
            return self.tensor(node["input"][0])
        if op not in KINDS:
            raise ValueError(f"{op} is not supported")
        inputs = [self.tensor(name) for name in node["input"]]
        shape, options = self.shape_and_options(node, KINDS[op], inputs)
        output = self.add(shape)
        self.operators.append(Operator(KINDS[op], inputs, [output], options))
        return output

    def shape_and_options(self, node, kind, inputs):
        shape = self.tensors[inputs[0]].shape
        if kind == "ADD":
            return shape, {"activation": "NONE"}
        if kind == "RESIZE_BILINEAR":
            rows, columns = (int(v) for v in self.tensors[inputs[1]].values)
            attributes = node["attr"]
            return [shape[0], rows, columns, shape[3]], {
                "align_corners": attributes["align_corners"]["b"], "half_pixel": attributes["half_pixel_centers"]["b"],
            }
        if kind in ("CONV_2D", "DEPTHWISE_CONV_2D"):
            return self.convolution(node, kind, inputs)
        return shape, {}

    def convolution(self, node, kind, inputs):
        attributes = node["attr"]
        _, stride_h, stride_w, _ = (int(v) for v in attributes["strides"]["list"]["i"])
        _, dilation_h, dilation_w, _ = (int(v) for v in attributes["dilations"]["list"]["i"])
        fused = attributes.get("fused_ops", {"list": {}})["list"].get("s", [])
        options = {
            "padding": _text(attributes["padding"]["s"]), "activation": FUSED[tuple(_text(f) for f in fused)],
            "stride_h": stride_h, "stride_w": stride_w, "dilation_h": dilation_h, "dilation_w": dilation_w,
        }
        # They lie as [height, width, in, out], depthwise ones as [height, width, channels, 1].
        weights = self.tensors[inputs[1]].values.transpose(3, 0, 1, 2)
        if kind == "DEPTHWISE_CONV_2D" and weights.shape[0] != 1:
            raise ValueError("several results a channel are not supported")
        inputs[1] = self.add(weights.shape, weights)
        batch, rows, columns, channels = self.tensors[inputs[0]].shape
        size = []
        for length, kernel, stride, dilation in (
            (rows, weights.shape[1], stride_h, dilation_h), (columns, weights.shape[2], stride_w, dilation_w),
        ):
            if options["padding"] == "VALID":
                length -= (kernel - 1) * dilation
            size.append(-(-length // stride))
        return [batch, *size, channels if kind == "DEPTHWISE_CONV_2D" else weights.shape[0]], options


def _text(encoded):
    return base64.b64decode(encoded).decode()
