const place = document.getElementById("body");
const slider = document.getElementById("at"), clear = document.getElementById("clear");

const COLOURS = { new: 0xf0a030, old: 0xcfd4d8, driven: 0xc01818, done: 0x3c4044, edge: 0x8a9096, heavy: 0x000000 };
const CREASE = 40; // degrees: facets of a round that turn less are one face
const GLASS = 0.25; // opacity of plates that are seen through
const TURN = 0.008, NEARER = 1.0015, SLIP = 4; // radians a px; share of the distance a unit of the wheel; px

async function unpacked() {
  const text = atob(document.getElementById("packed").textContent);
  const bytes = Uint8Array.from(text, (sign) => sign.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(stream).arrayBuffer();
}

function read(buffer) { // the two chunks of a binary glTF file: its words, and the numbers of its meshes
  const header = new DataView(buffer), long = header.getUint32(12, true);
  const words = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 20, long)));
  const start = 20 + long + 8;
  const numbers = (index, kind, each) => {
    const one = words.accessors[index];
    return new kind(buffer, start + words.bufferViews[one.bufferView].byteOffset, one.count * each);
  };
  const shapes = words.meshes.map((mesh) => {
    const shape = new THREE.BufferGeometry(), primitive = mesh.primitives[0];
    shape.setAttribute("position", new THREE.BufferAttribute(numbers(primitive.attributes.POSITION, Float32Array, 3), 3));
    shape.setIndex(new THREE.BufferAttribute(numbers(primitive.indices, Uint32Array, 1), 1));
    return shape;
  });
  const root = words.nodes[words.scenes[0].nodes[0]].children.map((index) => words.nodes[index]);
  return {
    shapes,
    pieces: root.filter((node) => node.mesh !== undefined),
    rivets: root.flatMap((node) => (node.children ?? []).map((index) => words.nodes[index])),
  };
}

function piece(node, shapes, outlines) {
  if (!outlines.has(node.mesh)) outlines.set(node.mesh, new THREE.EdgesGeometry(shapes[node.mesh], CREASE));
  const skin = new THREE.MeshLambertMaterial({ flatShading: true, polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 });
  const mesh = new THREE.Mesh(shapes[node.mesh], skin);
  const lines = new THREE.LineSegments(outlines.get(node.mesh), new THREE.LineBasicMaterial());
  const whole = new THREE.Group();
  whole.add(mesh, lines);
  whole.applyMatrix4(new THREE.Matrix4().fromArray(node.matrix));
  mesh.userData = { piece: node.name };
  return { name: node.name, whole, skin, lines };
}

function runs(rivets, shapes) { // the rivets of one shape are drawn at once
  const kinds = new Map();
  for (const node of rivets) {
    if (!kinds.has(node.mesh)) kinds.set(node.mesh, []);
    kinds.get(node.mesh).push(node);
  }
  const one = new THREE.Vector3(1, 1, 1);
  return [...kinds].map(([mesh, nodes]) => {
    const many = new THREE.InstancedMesh(shapes[mesh], new THREE.MeshLambertMaterial({ flatShading: true }), nodes.length);
    many.frustumCulled = false;
    const turned = nodes.map((node) => new THREE.Matrix4().compose(
      new THREE.Vector3(...node.translation), new THREE.Quaternion(...node.rotation), one));
    return { many, turned, names: nodes.map((node) => node.name), shown: [] };
  });
}

function viewer(body, told) {
  const renderer = new THREE.WebGLRenderer({ antialias: true });
  renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
  renderer.setClearColor(0xffffff);
  place.append(renderer.domElement);
  const scene = new THREE.Scene(), camera = new THREE.PerspectiveCamera(30, 1, 1, 1e6);
  camera.up.set(0, 0, 1);
  const lamp = new THREE.DirectionalLight(0xffffff, 1.6);
  scene.add(new THREE.AmbientLight(0xffffff, 1.7), lamp, lamp.target);
  const outlines = new Map();
  const pieces = body.pieces.map((node) => piece(node, body.shapes, outlines));
  const rivets = runs(body.rivets, body.shapes);
  scene.add(...pieces.map((one) => one.whole), ...rivets.map((one) => one.many));
  const extent = new THREE.Box3();
  for (const one of pieces) extent.expandByObject(one.whole);
  const size = extent.isEmpty() ? 1000 : extent.getSize(new THREE.Vector3()).length();
  const eye = { target: new THREE.Vector3(), turn: 0, rise: 0, away: 1 };
  let waiting = 0, step = 1;

  function fit() {
    extent.getCenter(eye.target);
    Object.assign(eye, { turn: -Math.PI / 4, rise: 0.5, away: size * 1.9 });
    later();
  }

  function draw() {
    waiting = 0;
    const level = Math.cos(eye.rise);
    const way = new THREE.Vector3(level * Math.cos(eye.turn), level * Math.sin(eye.turn), Math.sin(eye.rise));
    camera.position.copy(eye.target).addScaledVector(way, eye.away);
    camera.near = Math.max(eye.away - size, eye.away / 200);
    camera.far = eye.away + 2 * size;
    camera.updateProjectionMatrix();
    camera.lookAt(eye.target);
    lamp.position.copy(camera.position).addScaledVector(camera.up, size / 2);
    lamp.target.position.copy(eye.target);
    lamp.target.updateMatrixWorld();
    renderer.render(scene, camera);
  }
  function later() { if (!waiting) waiting = requestAnimationFrame(draw); }

  function measure() {
    const wide = place.clientWidth || 1, high = place.clientHeight || 1;
    renderer.setSize(wide, high);
    camera.aspect = wide / high;
    later();
  }

  function show(number) {
    step = Math.min(Math.max(number, 1), told.steps.length);
    const { new: added, stands } = told.steps[step - 1];
    const fresh = new Set(added), there = new Set([...stands, ...added]);
    for (const one of pieces) {
      const heavy = fresh.has(one.name);
      one.whole.visible = there.has(one.name);
      one.skin.color.set(heavy ? COLOURS.new : COLOURS.old);
      one.lines.material.color.set(heavy ? COLOURS.heavy : COLOURS.edge);
      one.lines.material.depthTest = !heavy; // what comes in is seen behind what stands
      one.lines.renderOrder = heavy ? 1 : 0;
      const glass = clear.checked && !heavy;
      Object.assign(one.skin, { transparent: glass, opacity: glass ? GLASS : 1, depthWrite: !glass });
    }
    const whole = told.held.map((plies) => plies.every((name) => there.has(name))); // what left the bench waits for its piece
    for (const run of rivets) {
      run.shown = run.names.map((_, k) => k).filter((k) => {
        const [at, , plies] = told.rivets[run.names[k]];
        return at && at <= step && whole[plies];
      });
      run.many.count = run.shown.length;
      run.shown.forEach((k, at) => {
        run.many.setMatrixAt(at, run.turned[k]);
        run.many.setColorAt(at, new THREE.Color(told.rivets[run.names[k]][0] === step ? COLOURS.driven : COLOURS.done));
      });
      run.many.instanceMatrix.needsUpdate = true;
      if (run.many.instanceColor) run.many.instanceColor.needsUpdate = true;
      run.many.boundingSphere = null;
    }
    slider.value = String(step);
    const words = `step ${step} of ${told.steps.length}`;
    document.getElementById("which").textContent = words;
    document.getElementById("picked").textContent = "";
    const count = rivets.reduce((sum, run) => sum + run.shown.length, 0);
    place.setAttribute("aria-label", `the body at ${words}: ${there.size} pieces, ${count} rivets driven`);
    for (const article of document.querySelectorAll(".steps article")) article.classList.toggle("now", article.id === `step-${step}`);
    later();
  }

  function pick(x, y) {
    const box = place.getBoundingClientRect(), ray = new THREE.Raycaster();
    ray.setFromCamera(new THREE.Vector2(((x - box.left) / box.width) * 2 - 1, 1 - ((y - box.top) / box.height) * 2), camera);
    const seen = [...pieces.filter((one) => one.whole.visible).map((one) => one.whole.children[0]), ...rivets.filter((run) => run.many.count).map((run) => run.many)];
    const hit = ray.intersectObjects(seen, false)[0];
    document.getElementById("picked").textContent = hit ? name(hit) : "";
  }

  function name(hit) {
    if (hit.instanceId === undefined) return `piece ${hit.object.userData.piece}`;
    const run = rivets.find((one) => one.many === hit.object), number = run.names[run.shown[hit.instanceId]];
    const [at, line] = told.rivets[number];
    return `rivet ${number}: ${line < 0 ? "length not known" : told.sizes[line]}, driven at step ${at}`;
  }

  function move(dx, dy) {
    const share = (2 * eye.away * Math.tan((camera.fov * Math.PI) / 360)) / (place.clientHeight || 1);
    const right = new THREE.Vector3().setFromMatrixColumn(camera.matrix, 0), up = new THREE.Vector3().setFromMatrixColumn(camera.matrix, 1);
    eye.target.addScaledVector(right, -dx * share).addScaledVector(up, dy * share);
  }
  const nearer = (share) => { eye.away = Math.min(Math.max(eye.away * share, size / 100), size * 10); };

  const held = new Map();
  let slid = 0;
  place.addEventListener("pointerdown", (event) => {
    place.setPointerCapture(event.pointerId);
    held.set(event.pointerId, [event.clientX, event.clientY]);
    if (held.size === 1) slid = 0;
  });
  place.addEventListener("pointermove", (event) => {
    const before = held.get(event.pointerId);
    if (!before) return;
    const dx = event.clientX - before[0], dy = event.clientY - before[1];
    slid += Math.abs(dx) + Math.abs(dy);
    if (held.size > 1) {
      const other = [...held].find(([id]) => id !== event.pointerId)[1];
      const apart = (point) => Math.hypot(point[0] - other[0], point[1] - other[1]);
      nearer(Math.max(apart(before), 1) / Math.max(apart([event.clientX, event.clientY]), 1));
      move(dx / 2, dy / 2);
    } else if (event.shiftKey || event.buttons & 6) {
      move(dx, dy);
    } else {
      eye.turn -= dx * TURN;
      eye.rise = Math.min(Math.max(eye.rise + dy * TURN, -1.55), 1.55);
    }
    held.set(event.pointerId, [event.clientX, event.clientY]);
    later();
  });
  for (const end of ["pointerup", "pointercancel"]) {
    place.addEventListener(end, (event) => {
      if (end === "pointerup" && held.size === 1 && slid < SLIP) pick(event.clientX, event.clientY);
      held.delete(event.pointerId);
    });
  }
  place.addEventListener("contextmenu", (event) => event.preventDefault());
  place.addEventListener("wheel", (event) => {
    event.preventDefault();
    nearer(NEARER ** event.deltaY);
    later();
  }, { passive: false });
  clear.addEventListener("change", () => show(step));
  slider.addEventListener("input", () => show(Number(slider.value)));
  document.getElementById("back").addEventListener("click", () => show(step - 1));
  document.getElementById("on").addEventListener("click", () => show(step + 1));
  document.getElementById("fit").addEventListener("click", fit);
  addEventListener("keydown", (event) => { // the slider's own keys do the same
    const ways = { ArrowLeft: step - 1, ArrowRight: step + 1, Home: 1, End: told.steps.length };
    if (event.ctrlKey || event.metaKey || event.altKey || !(event.key in ways)) return;
    event.preventDefault();
    show(ways[event.key]);
  });
  new ResizeObserver(measure).observe(place);
  measure();
  fit();
  show(1);
}

async function start() {
  if (!document.getElementById("packed")) return;
  const order = document.querySelector(".order");
  try {
    if (!document.createElement("canvas").getContext("webgl2")) throw new Error("no WebGL 2");
    const body = read(await unpacked());
    order.classList.add("drawn");
    viewer(body, JSON.parse(document.getElementById("told").textContent));
  } catch (error) { // the words of all steps stand, and the sentence that says why there is no picture
    order.classList.remove("drawn");
    console.info(String(error));
  }
}
start();
