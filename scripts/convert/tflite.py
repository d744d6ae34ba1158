"""Reads a TFLite file as a network.Network.

A TFLite file is a flatbuffer: a tree of tables whose fields are found through
a small offset table ("vtable") each table points back to. Only the parts that
the networks here use are read, so no TensorFlow is needed. Field numbers are
those of the public TFLite schema (schema.fbs).
"""

import struct

import numpy as np

from network import Network, Operator, Tensor

# BuiltinOperator of schema.fbs: the operators the networks use.
OPERATORS = {
    0: "ADD",
    2: "CONCATENATION",
    3: "CONV_2D",
    4: "DEPTHWISE_CONV_2D",
    5: "DEPTH_TO_SPACE",
    6: "DEQUANTIZE",
    9: "FULLY_CONNECTED",
    14: "LOGISTIC",
    17: "MAX_POOL_2D",
    22: "RESHAPE",
    23: "RESIZE_BILINEAR",
    34: "PAD",
    40: "MEAN",
    124: "DENSIFY",
}

# TensorType of schema.fbs.
TENSOR_TYPES = {0: np.float32, 1: np.float16, 2: np.int32, 3: np.uint8, 4: np.int64, 9: np.int8}

# Options of each operator: where its option table has them in schema.fbs, their type, and
# what holds where one is not written (0 when not said).
OPTIONS = {
    "ADD": {"activation": (0, "b")},
    "CONCATENATION": {"axis": (0, "i")},
    "CONV_2D": {
        "padding": (0, "b"), "stride_w": (1, "i"), "stride_h": (2, "i"), "activation": (3, "b"),
        "dilation_w": (4, "i", 1), "dilation_h": (5, "i", 1),
    },
    "DEPTHWISE_CONV_2D": {
        "padding": (0, "b"), "stride_w": (1, "i"), "stride_h": (2, "i"), "activation": (4, "b"),
        "dilation_w": (5, "i", 1), "dilation_h": (6, "i", 1),
    },
    "DEPTH_TO_SPACE": {"block": (0, "i")},
    "FULLY_CONNECTED": {"activation": (0, "b")},
    "MAX_POOL_2D": {
        "padding": (0, "b"), "stride_w": (1, "i"), "stride_h": (2, "i"), "filter_w": (3, "i"), "filter_h": (4, "i"),
        "activation": (5, "b"),
    },
    "MEAN": {"keep_dims": (0, "b")},
    "RESIZE_BILINEAR": {"align_corners": (2, "B"), "half_pixel": (3, "B")},
}
PADDINGS = {0: "SAME", 1: "VALID"}
ACTIVATIONS = {0: "NONE", 1: "RELU", 3: "RELU6"}

# Element types of the index lists of a sparse tensor (SparseIndexVector).
SPARSE_INDEX_TYPES = {1: np.int32, 2: np.uint16, 3: np.uint8}


class Table:
    """One flatbuffer table; its fields are read by their schema number."""

    def __init__(self, data, position):
        self._data = data
        self._position = position
        self._vtable = position - struct.unpack_from("<i", data, position)[0]
        self._vtable_size = struct.unpack_from("<H", data, self._vtable)[0]

    def _field(self, number):
        """Returns the position of a field, or 0 when it was not written."""
        entry = 4 + 2 * number
        if entry >= self._vtable_size:
            return 0
        relative = struct.unpack_from("<H", self._data, self._vtable + entry)[0]
        return self._position + relative if relative else 0

    def _follow(self, position):
        return position + struct.unpack_from("<I", self._data, position)[0]

    def scalar(self, number, format_, default=0):
        position = self._field(number)
        return struct.unpack_from("<" + format_, self._data, position)[0] if position else default

    def table(self, number):
        position = self._field(number)
        return Table(self._data, self._follow(position)) if position else None

    def string(self, number):
        raw = self.array(number, np.uint8)
        return "" if raw is None else raw.tobytes().decode()

    def array(self, number, dtype):
        """Returns a vector of numbers, or None when it was not written."""
        position = self._field(number)
        if not position:
            return None
        start = self._follow(position)
        count = struct.unpack_from("<I", self._data, start)[0]
        return np.frombuffer(self._data, dtype=dtype, count=count, offset=start + 4)

    def integers(self, number):
        values = self.array(number, np.int32)
        return [] if values is None else [int(v) for v in values]

    def tables(self, number):
        position = self._field(number)
        if not position:
            return []
        start = self._follow(position)
        count = struct.unpack_from("<I", self._data, start)[0]
        return [Table(self._data, self._follow(start + 4 + 4 * k)) for k in range(count)]


def load(path):
    """Reads the first (only) graph of a TFLite file, constants unpacked."""
    with open(path, "rb") as file:
        data = file.read()
    if data[4:8] != b"TFL3":
        raise ValueError(f"{path} is not a TFLite file")
    model = Table(data, struct.unpack_from("<I", data, 0)[0])

    kinds = []
    for code in model.tables(1):
        # Old writers fill the 8-bit field, new ones the 32-bit one.
        number = max(code.scalar(0, "b"), code.scalar(3, "i"))
        kinds.append(OPERATORS.get(number, f"operator {number}"))
    buffers = [buffer.array(0, np.uint8) for buffer in model.tables(4)]

    graph = model.tables(2)[0]
    tensors = [_tensor(table, buffers) for table in graph.tables(0)]
    operators = [_operator(kinds[table.scalar(0, "I")], table) for table in graph.tables(3)]
    return Network(tensors, operators, graph.integers(1), graph.integers(2))


def _operator(kind, table):
    options, written = {}, table.table(4)
    for name, field in OPTIONS.get(kind, {}).items():
        options[name] = written.scalar(*field)
    if "padding" in options:
        options["padding"] = PADDINGS[options["padding"]]
    if "activation" in options:
        options["activation"] = ACTIVATIONS[options["activation"]]
    return Operator(kind, table.integers(1), table.integers(2), options)


def _tensor(table, buffers):
    shape = table.integers(0)
    raw = buffers[table.scalar(2, "I")]
    values = None
    if raw is not None and len(raw):
        values = raw.view(TENSOR_TYPES[table.scalar(1, "b")])
        sparsity = table.table(6)
        values = values.reshape(shape) if sparsity is None else _densify(values, shape, sparsity)
    return Tensor(shape, values)


def _densify(stored, shape, sparsity):
    """Spreads the stored values of a sparse tensor over an array of zeros.

    A sparse tensor is a tree of levels, one for each dimension in traversal
    order; dimensions numbered from len(shape) up are positions inside a block.
    A dense level lists all its positions, a sparse one only those present
    (segments and indices, as in compressed sparse rows). Walking the levels
    gives the coordinates of every stored value.
    """
    order = sparsity.integers(0)
    block_map = sparsity.integers(1)
    levels = []
    for level in sparsity.tables(2):
        segments = _sparse_index(level, 2)
        indices = _sparse_index(level, 4)
        levels.append((level.scalar(0, "b"), level.scalar(1, "i"), segments, indices))

    position = np.zeros(1, np.int64)  # where each branch stands in the level's own list
    coordinates = []                  # one array a level walked so far
    for is_sparse, size, segments, indices in levels:
        if is_sparse:
            counts = segments[position + 1] - segments[position]
            first = np.repeat(segments[position], counts)
            within = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
            position = first + within
            coordinates = [np.repeat(c, counts) for c in coordinates] + [indices[position]]
        else:
            steps = np.arange(size)
            coordinates = [np.repeat(c, size) for c in coordinates] + [np.tile(steps, len(position))]
            position = (position[:, None] * size + steps[None]).ravel()

    full = [None] * len(shape)
    for level, dimension in enumerate(order):
        if dimension < len(shape):
            full[dimension] = coordinates[level]
    for level, dimension in enumerate(order):
        if dimension >= len(shape):
            blocked = block_map[dimension - len(shape)]
            full[blocked] = full[blocked] * levels[level][1] + coordinates[level]
    dense = np.zeros(shape, stored.dtype)
    dense[tuple(full)] = stored[position]
    return dense


def _sparse_index(level, type_field):
    """Reads one SparseIndexVector: its type in one field, the table in the next."""
    table = level.table(type_field + 1)
    if table is None:
        return None
    return table.array(0, SPARSE_INDEX_TYPES[level.scalar(type_field, "B")]).astype(np.int64)
