// Runs in the browser: the networks and the tracker themselves.
"use strict";

// Returns a canvas that holds a PNG's pixels as they are.
async function picture(url) {
  const response = await fetch(url);
  if (!response.ok) throw new Error(`${url}: ${response.status}`);
  const bitmap = await createImageBitmap(await response.blob(), { colorSpaceConversion: "none", premultiplyAlpha: "none" });
  const canvas = document.createElement("canvas");
  canvas.width = bitmap.width;
  canvas.height = bitmap.height;
  canvas.getContext("2d", { willReadFrequently: true }).drawImage(bitmap, 0, 0);
  bitmap.close();
  return canvas;
}

// Returns the input of a network, rows, columns, channels: a pattern that can be
// made again anywhere from whole numbers, or a picture.
async function networkInput({ input, size, min, max }) {
  const values = new Float32Array(size * size * 3);
  const put = (y, x, c, byte) => { values[(y * size + x) * 3 + c] = min + (byte / 255) * (max - min); };
  if (input === "generated") {
    for (let y = 0; y < size; y++)
      for (let x = 0; x < size; x++)
        for (let c = 0; c < 3; c++) put(y, x, c, (7 * x + 13 * y + 29 * c + ((x * y) % 97)) % 256);
  } else {
    const canvas = await picture(`/reference/${input}`);
    if (canvas.width !== size || canvas.height !== size) throw new Error(`${input} has the wrong size`);
    const pixels = canvas.getContext("2d").getImageData(0, 0, size, size).data;
    for (let i = 0; i < size * size; i++)
      for (let c = 0; c < 3; c++) put(Math.floor(i / size), i % size, c, pixels[4 * i + c]);
  }
  return values;
}

const models = new Map();

async function runNetwork(network) {
  if (!models.has(network.file)) {
    tflite.setWasmPath("/packages/@tensorflow/tfjs-tflite/wasm/");
    models.set(network.file, await tflite.loadTFLiteModel(`/packages/${network.package}/${network.file}`, { numThreads: 1 }));
  }
  const input = tf.tensor(await networkInput(network), [1, network.size, network.size, 3], "float32");
  const outputs = models.get(network.file).predict(input);
  // Told apart by their sizes, which are all different.
  const bySize = (size) => {
    const found = Object.values(outputs).find((t) => t.size === size);
    if (!found) throw new Error(`no output of ${size} values: ${Object.values(outputs).map((t) => t.shape)}`);
    return Array.from(found.dataSync());
  };
  const digits = (v) => Number(v.toPrecision(7));
  if (network.name === "shoe") return { box: bySize(18).map(digits), score: bySize(1).map(digits) };
  if (network.name === "detector") {
    const boxes = bySize(2254 * 12), scores = bySize(2254);
    // The twenty likeliest anchors, and every 25th of the rest.
    const best = scores.map((s, i) => [s, i]).sort((a, b) => b[0] - a[0]).slice(0, 20).map(([, i]) => i);
    const chosen = [...new Set([...best, ...Array.from({ length: 90 }, (_, k) => 25 * k)])].sort((a, b) => a - b);
    return {
      anchors: chosen,
      scores: chosen.map((i) => digits(scores[i])),
      boxes: chosen.map((i) => boxes.slice(12 * i, 12 * i + 12).map(digits)),
    };
  }
  const heatmap = bySize(64 * 64 * 39);
  const peaks = [];
  for (let k = 0; k < 39; k++) {
    let best = 0, sum = 0;
    for (let i = 0; i < 64 * 64; i++) {
      sum += heatmap[i * 39 + k];
      if (heatmap[i * 39 + k] > heatmap[best * 39 + k]) best = i;
    }
    peaks.push([Math.floor(best / 64), best % 64, digits(heatmap[best * 39 + k]), digits(sum / 4096)]);
  }
  return {
    landmarks: bySize(195).map(digits),
    presence: bySize(1).map(digits),
    world: bySize(117).map(digits),
    // For each keypoint: row and column of the largest value, that value, mean of all.
    heatmap: peaks,
  };
}

async function tracker(complexity) {
  const pose = new Pose({ locateFile: (file) => `/packages/@mediapipe/pose/${file}` });
  // Inference on the processor: 32-bit arithmetic, whatever the graphics card.
  pose.setOptions({ modelComplexity: complexity, smoothLandmarks: false, enableSegmentation: false, useCpuInference: true });
  let landmarks = null;
  pose.onResults((results) => {
    landmarks = results.poseLandmarks ? results.poseLandmarks.map((p) => [p.x, p.y, p.z, p.visibility]) : null;
  });
  await pose.initialize();
  return {
    async look(canvas, atMs) {
      landmarks = null;
      await pose.send({ image: canvas }, atMs);
      return landmarks;
    },
    close: () => pose.close(),
  };
}

async function runTracker({ complexity, folder, count }) {
  const frame = (i) => picture(`/frames/${folder}/${String(i + 1).padStart(4, "0")}.png`);
  const first = await frame(0);

  const still = await tracker(complexity);
  const alone = await still.look(first, 1);
  await still.close();

  const moving = await tracker(complexity);
  const frames = [];
  // In milliseconds, as on a video of 60 frames/s. Even with the keypoints' smoothing
  // off, the tracker smooths the region it looks at, and that hangs on these times.
  // The first must not be 0, which would mean now.
  for (let i = 0; i < count; i++) frames.push(await moving.look(i ? await frame(i) : first, 1 + (i * 1000) / 60));
  await moving.close();
  return { width: first.width, height: first.height, alone, frames };
}
