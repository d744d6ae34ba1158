#!/usr/bin/python3
"""Converts one network from TFLite, or from a graph model of TensorFlow.js, to ONNX.

usage: to_onnx.py SOURCE TARGET.onnx --outputs NAME,NAME,... [--drop NAME,...] [--nodes NODE,NODE,...]

--outputs names the network's outputs in the order of the TFLite file; those
named by --drop are left out, with all that only they need. Of a graph model
(SOURCE is its .json), --nodes says which nodes are the outputs: what comes after
them, such as reading points from heat maps, is left out too. What changes on the way:

  layout   The sources keep pictures as NHWC, ONNX as NCHW. Weights are transposed
           once here; the few places where the order of elements shows outside
           (a flattening RESHAPE, a picture-shaped output) get a Transpose.
  padding  SAME puts the odd pixel at the end; ONNX gets the explicit
           numbers. A PAD before an unpadded convolution becomes its padding.
  weights  The source stores 16-bit floats and widens them at run time; so does
           the result (Cast to 32 bits, folded when the network is loaded).
           Nothing is rounded.

The same source gives the same bytes: names are numbers of the source's tensors
and nothing of the time or place is written.
"""

import argparse
import os

import numpy as np
import onnx
from onnx import TensorProto, helper, numpy_helper

import tfjs
import tflite

OPSET = 13
IR_VERSION = 7  # the file format that goes with opset 13

NHWC_TO_NCHW = [0, 3, 1, 2]
NCHW_TO_NHWC = [0, 2, 3, 1]


class Converter:
    def __init__(self, network):
        self.network = network
        self.nodes = []
        self.constants = []
        # Constants that only unpacking steps stand before are constants too.
        self.values = {i: t.values for i, t in enumerate(network.tensors) if t.values is not None}
        self.operators = []
        for operator in network.operators:
            if operator.kind in ("DEQUANTIZE", "DENSIFY") and operator.inputs[0] in self.values:
                self.values[operator.outputs[0]] = self.values[operator.inputs[0]]
            else:
                self.operators.append(operator)
        self.folded_pads = self._foldable_pads()

    # Building blocks.

    def name(self, tensor):
        return "input" if tensor == self.network.inputs[0] else f"t{tensor}"

    def shape(self, tensor):
        return self.network.tensors[tensor].shape

    def node(self, kind, inputs, outputs, **attributes):
        self.nodes.append(helper.make_node(kind, inputs, outputs, **attributes))

    def constant(self, name, array):
        self.constants.append(numpy_helper.from_array(np.ascontiguousarray(array), name))
        return name

    def weight(self, name, array):
        if array.dtype != np.float16:
            return self.constant(name, array)
        self.node("Cast", [self.constant(name + "_f16", array)], [name], to=TensorProto.FLOAT)
        return name

    def activated(self, kind, inputs, output, activation, **attributes):
        """Adds a node and the activation that the source fused into it."""
        if activation == "NONE":
            self.node(kind, inputs, [output], **attributes)
            return
        before = output + "_pre"
        self.node(kind, inputs, [before], **attributes)
        if activation == "RELU":
            self.node("Relu", [before], [output])
        elif activation == "RELU6":
            self.node("Clip", [before, "zero", "six"], [output])
        else:
            raise ValueError(f"activation {activation} is not known")

    def _foldable_pads(self):
        """Returns {output: (input, paddings)} of PADs that a convolution can take over."""
        readers = {}
        for operator in self.operators:
            for tensor in operator.inputs:
                readers.setdefault(tensor, []).append(operator)
        folded = {}
        for operator in self.operators:
            if operator.kind != "PAD":
                continue
            source, output = operator.inputs[0], operator.outputs[0]
            paddings = self.values[operator.inputs[1]]
            only_space = not paddings[0].any() and not paddings[3].any()
            if only_space and output not in self.network.outputs and all(
                reader.kind in ("CONV_2D", "DEPTHWISE_CONV_2D")
                and reader.options["padding"] == "VALID"
                for reader in readers[output]
            ):
                folded[output] = (source, paddings)
        return folded

    # One method for each operator.

    def pad(self, operator, output):
        if operator.outputs[0] in self.folded_pads:
            return
        paddings = self.values[operator.inputs[1]]
        amounts = [paddings[d][end] for end in (0, 1) for d in NHWC_TO_NCHW]
        amounts = self.constant(output + "_pads", np.array(amounts, np.int64))
        self.node("Pad", [self.name(operator.inputs[0]), amounts], [output], mode="constant")

    def conv_2d(self, operator, output, depthwise=False):
        options = operator.options
        stride = [options["stride_h"], options["stride_w"]]
        dilation = [options["dilation_h"], options["dilation_w"]]
        weights = self.values[operator.inputs[1]]
        kernel = list(weights.shape[1:3])
        source = operator.inputs[0]
        if source in self.folded_pads:
            source, paddings = self.folded_pads[source]
            pads = [int(paddings[d][end]) for end in (0, 1) for d in (1, 2)]
        elif options["padding"] == "SAME":
            pads = same_padding(self.shape(source)[1:3], kernel, stride, dilation)
        else:
            pads = [0, 0, 0, 0]
        # TFLite: [out, h, w, in], depthwise [1, h, w, out]; ONNX: [out, in, h, w].
        weights = weights.transpose(3, 0, 1, 2) if depthwise else weights.transpose(0, 3, 1, 2)
        inputs = [self.name(source), self.weight(output + "_weight", weights)]
        if len(operator.inputs) > 2 and operator.inputs[2] >= 0:
            inputs.append(self.weight(output + "_bias", self.values[operator.inputs[2]]))
        self.activated(
            "Conv", inputs, output, options["activation"],
            kernel_shape=kernel, strides=stride, dilations=dilation, pads=pads,
            group=self.shape(source)[3] if depthwise else 1,
        )

    def depthwise_conv_2d(self, operator, output):
        self.conv_2d(operator, output, depthwise=True)

    def add(self, operator, output):
        self.activated("Add", [self.name(t) for t in operator.inputs], output, operator.options["activation"])

    def subtract(self, operator, output):
        self.with_constant("Sub", operator, output)

    def multiply(self, operator, output):
        self.with_constant("Mul", operator, output)

    def with_constant(self, kind, operator, output):
        source, other = operator.inputs
        values = self.values[other]
        values = values.reshape([1] * (4 - values.ndim) + list(values.shape)).transpose(NHWC_TO_NCHW)
        self.node(kind, [self.name(source), self.weight(output + "_constant", values)], [output])

    def fully_connected(self, operator, output):
        source, weights, bias = operator.inputs
        inputs = [self.name(source), self.weight(output + "_weight", self.values[weights]), self.weight(output + "_bias", self.values[bias])]
        self.activated("Gemm", inputs, output, operator.options["activation"], transB=1)

    def mean(self, operator, output):
        axes = [NHWC_TO_NCHW.index(int(axis)) for axis in self.values[operator.inputs[1]]]
        self.node("ReduceMean", [self.name(operator.inputs[0])], [output], axes=axes, keepdims=operator.options["keep_dims"])

    def max_pool_2d(self, operator, output):
        options = operator.options
        stride = [options["stride_h"], options["stride_w"]]
        kernel = [options["filter_h"], options["filter_w"]]
        pads = [0, 0, 0, 0]
        if options["padding"] == "SAME":
            pads = same_padding(self.shape(operator.inputs[0])[1:3], kernel, stride, [1, 1])
        self.activated(
            "MaxPool", [self.name(operator.inputs[0])], output, options["activation"],
            kernel_shape=kernel, strides=stride, pads=pads,
        )

    def resize_bilinear(self, operator, output):
        options = operator.options
        mode = "align_corners" if options["align_corners"] else "half_pixel" if options["half_pixel"] else "asymmetric"
        before, after = self.shape(operator.inputs[0]), self.shape(operator.outputs[0])
        scales = np.array([1, 1, after[1] / before[1], after[2] / before[2]], np.float32)
        self.node(
            "Resize", [self.name(operator.inputs[0]), "", self.constant(output + "_scales", scales)], [output],
            mode="linear", coordinate_transformation_mode=mode,
        )

    def depth_to_space(self, operator, output):
        # TFLite's order of the packed channels is ONNX's DCR.
        self.node(
            "DepthToSpace", [self.name(operator.inputs[0])], [output],
            blocksize=operator.options["block"], mode="DCR",
        )

    def logistic(self, operator, output):
        self.node("Sigmoid", [self.name(operator.inputs[0])], [output])

    def reshape(self, operator, output):
        before, after = self.shape(operator.inputs[0]), self.shape(operator.outputs[0])
        if len(after) == 4:
            raise ValueError("a RESHAPE into a picture is not supported: its layout would be lost")
        source = self.name(operator.inputs[0])
        if len(before) == 4 and before[1:3] != [1, 1]:
            self.node("Transpose", [source], [output + "_nhwc"], perm=NCHW_TO_NHWC)
            source = output + "_nhwc"
        shape = self.constant(output + "_shape", np.array(after, np.int64))
        self.node("Reshape", [source, shape], [output])

    def concatenation(self, operator, output):
        axis = operator.options["axis"]
        if len(self.shape(operator.outputs[0])) == 4:
            axis = NHWC_TO_NCHW.index(axis)
        self.node("Concat", [self.name(t) for t in operator.inputs], [output], axis=axis)

    # The whole network.

    def model(self, output_names, dropped):
        """Returns the ONNX model with the named outputs, less the dropped ones."""
        if len(output_names) != len(self.network.outputs):
            raise ValueError(f"the network has {len(self.network.outputs)} outputs, {len(output_names)} were named")
        self.constant("zero", np.float32(0))
        self.constant("six", np.float32(6))
        for operator in self.operators:
            method = getattr(self, operator.kind.lower(), None)
            if method is None:
                raise ValueError(f"{operator.kind} is not supported")
            method(operator, self.name(operator.outputs[0]))

        outputs = []
        for tensor, name in zip(self.network.outputs, output_names):
            if name in dropped:
                continue
            shape = self.shape(tensor)
            if len(shape) == 4:
                self.node("Transpose", [self.name(tensor)], [name], perm=NCHW_TO_NHWC)
            else:
                self.node("Identity", [self.name(tensor)], [name])
            outputs.append(helper.make_tensor_value_info(name, TensorProto.FLOAT, shape))
        height, width, channels = self.shape(self.network.inputs[0])[1:]
        picture = helper.make_tensor_value_info("input", TensorProto.FLOAT, [1, channels, height, width])

        self._remove_unused({output.name for output in outputs})
        graph = helper.make_graph(self.nodes, "pose", [picture], outputs, self.constants)
        model = helper.make_model(
            graph, opset_imports=[helper.make_opsetid("", OPSET)], producer_name="holdfast", ir_version=IR_VERSION
        )
        onnx.checker.check_model(model, full_check=True)
        return model

    def _remove_unused(self, needed):
        kept = []
        for node in reversed(self.nodes):
            if needed.intersection(node.output):
                kept.append(node)
                needed.update(node.input)
        self.nodes = kept[::-1]
        self.constants = [constant for constant in self.constants if constant.name in needed]


def same_padding(size, kernel, stride, dilation):
    """Returns [top, left, bottom, right] of SAME padding."""
    before, after = [], []
    for length, k, s, d in zip(size, kernel, stride, dilation):
        count = -(-length // s)
        total = max(0, (count - 1) * s + (k - 1) * d + 1 - length)
        before.append(total // 2)
        after.append(total - total // 2)
    return before + after


def main():
    parser = argparse.ArgumentParser(description="Converts one network to ONNX.")
    parser.add_argument("source")
    parser.add_argument("target")
    parser.add_argument("--outputs", required=True, help="names of the outputs, in the order of the source or of --nodes")
    parser.add_argument("--drop", default="", help="outputs to leave out")
    parser.add_argument("--nodes", default="", help="the nodes of a graph model that are its outputs")
    arguments = parser.parse_args()

    if arguments.source.endswith(".json"):
        network = tfjs.load(arguments.source, arguments.nodes.split(","))
    else:
        network = tflite.load(arguments.source)
    converter = Converter(network)
    model = converter.model(arguments.outputs.split(","), set(arguments.drop.split(",")))
    partial = arguments.target + ".part"
    with open(partial, "wb") as file:
        file.write(model.SerializeToString(deterministic=True))
    os.replace(partial, arguments.target)


if __name__ == "__main__":
    main()
