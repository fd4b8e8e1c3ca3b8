// The vessel in three dimensions. Lengths are mm; +z is the vessel's axis.
import { OrbitControls, THREE } from "nicegui-scene";

const BACKGROUND = 0xf4f2ee;
const CLICK_PX = 4; // a pointer that moved farther than this has turned the view, and picked nothing
const FIELD_DEG = 30;
// From below the form over white to above it, told apart by people of any common colour vision.
const BELOW = new THREE.Color(0xb35806);
const LEVEL = new THREE.Color(0xf7f7f7);
const ABOVE = new THREE.Color(0x542788);
const UNKNOWN = new THREE.Color(0xb9b4aa);

async function fetched(shape) {
  const answer = await fetch(shape.url);
  if (!answer.ok) throw new Error(`${shape.url}: ${answer.status}`);
  const bytes = await answer.arrayBuffer();
  const [vertices, triangles] = new Uint32Array(bytes, 0, 2);
  let at = 8;
  const geometry = new THREE.BufferGeometry();
  geometry.setAttribute("position", new THREE.BufferAttribute(new Float32Array(bytes, at, 3 * vertices), 3));
  at += 12 * vertices;
  if (shape.values_to) {
    const values = new Float32Array(bytes, at, vertices);
    at += 4 * vertices;
    geometry.setAttribute("color", new THREE.BufferAttribute(colours(values, shape.values_to), 3));
    geometry.setAttribute("value", new THREE.BufferAttribute(values, 1));
  }
  geometry.setIndex(new THREE.BufferAttribute(new Uint32Array(bytes, at, 3 * triangles), 1));
  geometry.computeVertexNormals();
  geometry.computeBoundingSphere();
  return geometry;
}

function colours(values, most) {
  const held = new Float32Array(3 * values.length);
  const colour = new THREE.Color();
  values.forEach((value, n) => {
    if (Number.isNaN(value)) colour.copy(UNKNOWN);
    else colour.copy(LEVEL).lerp(value > 0 ? ABOVE : BELOW, Math.min(Math.abs(value) / most, 1));
    colour.toArray(held, 3 * n);
  });
  return held;
}

// The value where a shape that has values was met; none where one of its corners has none.
function valueAt(met) {
  const values = met.object.geometry.attributes.value;
  if (!values) return {};
  const mean = [met.face.a, met.face.b, met.face.c].reduce((sum, n) => sum + values.getX(n), 0) / 3;
  return { value: Number.isNaN(mean) ? null : mean };
}

// A surface with two materials: lit outside, flat and darker inside, so that a cut reads as a cut.
function surface(geometry, shape, planes) {
  const outside = new THREE.MeshStandardMaterial({
    color: shape.values_to ? 0xffffff : shape.colour,
    vertexColors: Boolean(shape.values_to),
    roughness: 0.85,
    metalness: 0,
    opacity: shape.opacity,
    transparent: shape.opacity < 1,
    clippingPlanes: planes,
  });
  const inside = new THREE.MeshBasicMaterial({
    color: new THREE.Color(shape.colour).multiplyScalar(0.55),
    side: THREE.BackSide,
    opacity: shape.opacity,
    transparent: shape.opacity < 1,
    clippingPlanes: planes,
  });
  const group = new THREE.Group();
  for (const material of [outside, inside]) group.add(new THREE.Mesh(geometry, material));
  group.visible = shape.visible;
  group.name = shape.name;
  return group;
}

export default {
  template: `
    <div class="vessel-view" style="position:relative;width:100%;height:100%">
      <canvas ref="canvas" tabindex="0" role="img" :aria-label="label"
        style="display:block;width:100%;height:100%;touch-action:none"></canvas>
      <div v-for="mark in placed" :key="mark.name" class="vessel-mark" :class="{ chosen: mark.name === chosen }" aria-hidden="true"
        :style="{position:'absolute',left:mark.x+'px',top:mark.y+'px',pointerEvents:'none'}">{{ mark.label }}</div>
      <div v-if="fault" role="alert" style="position:absolute;inset:auto 0 0 0;padding:8px">{{ fault }}</div>
    </div>`,
  props: { shapes: Array, box: Array, label: String, marks: Array, axis: Boolean, no3d: String, notLoaded: String },
  emits: ["pick", "ready", "cut"],
  data() {
    return { placed: [], fault: "", chosen: null };
  },

  async mounted() {
    await this.$nextTick();
    try {
      this.renderer = new THREE.WebGLRenderer({ canvas: this.$refs.canvas, antialias: true });
    } catch {
      this.fault = this.no3d;
      return;
    }
    this.renderer.setPixelRatio(Math.min(window.devicePixelRatio, 2));
    this.renderer.localClippingEnabled = true;
    this.scene = new THREE.Scene();
    this.scene.background = new THREE.Color(BACKGROUND);
    this.groups = new Map();
    this.planes = [];
    this.low = new THREE.Vector3(...this.box[0]);
    this.high = new THREE.Vector3(...this.box[1]);
    this.size = Math.max(this.low.distanceTo(this.high), 1);
    this.lit();
    if (this.axis) this.drawAxis();
    this.camera = new THREE.PerspectiveCamera(FIELD_DEG, 1, this.size / 200, this.size * 20);
    this.camera.up.set(0, 0, 1);
    this.controls = new OrbitControls(this.camera, this.$refs.canvas);
    this.controls.addEventListener("change", () => this.draw());
    this.flyHome();
    this.sized = new ResizeObserver(() => this.resize());
    this.sized.observe(this.$el);
    this.resize();
    this.listen();
    await Promise.all(this.shapes.map((shape) => this.add(shape)));
    this.$el.dataset.ready = "yes";
    this.$emit("ready", {});
    this.draw();
  },

  beforeUnmount() {
    this.sized?.disconnect();
    cancelAnimationFrame(this.frame);
    for (const group of this.groups?.values() ?? [])
      group.children.forEach((mesh) => {
        mesh.geometry.dispose();
        mesh.material.dispose();
      });
    this.controls?.dispose();
    this.renderer?.dispose();
  },

  methods: {
    lit() {
      this.scene.add(new THREE.HemisphereLight(0xffffff, 0x8d8478, 1.6));
      for (const [x, y, z, power] of [[-1, -1.4, 2, 1.6], [1.6, 0.6, 0.6, 0.7]]) {
        const light = new THREE.DirectionalLight(0xffffff, power);
        light.position.set(x, y, z).multiplyScalar(this.size);
        this.scene.add(light);
      }
    },
    drawAxis() {
      const above = (this.high.z - this.low.z) * 0.18;
      const points = [new THREE.Vector3(0, 0, this.low.z - above), new THREE.Vector3(0, 0, this.high.z + above)];
      const geometry = new THREE.BufferGeometry().setFromPoints(points);
      const dash = this.size / 60;
      const line = new THREE.Line(
        geometry,
        new THREE.LineDashedMaterial({ color: 0x333333, dashSize: dash, gapSize: dash / 2 }),
      );
      line.computeLineDistances();
      this.scene.add(line);
    },
    async add(shape) {
      try {
        const group = surface(await fetched(shape), shape, this.planes);
        this.groups.set(shape.name, group);
        this.scene.add(group);
      } catch (error) {
        this.fault = this.notLoaded.replace("{what}", error.message);
      }
    },
    listen() {
      const canvas = this.$refs.canvas;
      let from = null;
      canvas.addEventListener("pointerdown", (event) => (from = [event.clientX, event.clientY]));
      canvas.addEventListener("pointerup", (event) => {
        if (from && Math.hypot(event.clientX - from[0], event.clientY - from[1]) <= CLICK_PX) this.pick(event);
        from = null;
      });
      canvas.addEventListener("keydown", (event) => this.byKey(event));
      canvas.addEventListener("pointerdown", (event) => this.grabCut(event), { capture: true });
    },
    // With shift held, a drag moves the cut along its own direction and does not turn the view.
    grabCut(event) {
      const [plane] = this.planes;
      if (!plane || !event.shiftKey) return;
      event.stopPropagation();
      const canvas = this.$refs.canvas;
      const along = plane.normal.clone().negate();
      const onScreen = (point) => {
        const at = point.clone().project(this.camera);
        return new THREE.Vector2((at.x / 2) * canvas.clientWidth, (-at.y / 2) * canvas.clientHeight);
      };
      const middle = this.controls.target;
      let perMm = onScreen(middle.clone().add(along)).sub(onScreen(middle));
      // Looked at head-on, the cut moves towards the eye: upwards by convention.
      if (perMm.length() < 0.7) perMm = new THREE.Vector2(0, -canvas.clientHeight / this.size);
      const begun = { x: event.clientX, y: event.clientY, offset: plane.constant };
      const moved = (now) => {
        const way = (now.clientX - begun.x) * perMm.x + (now.clientY - begun.y) * perMm.y;
        plane.constant = begun.offset + way / perMm.lengthSq();
        this.$emit("cut", { offset: plane.constant });
        this.draw();
      };
      const done = () => window.removeEventListener("pointermove", moved);
      window.addEventListener("pointermove", moved);
      window.addEventListener("pointerup", done, { once: true });
    },
    byKey(event) {
      const turns = { ArrowLeft: [-0.15, 0], ArrowRight: [0.15, 0], ArrowUp: [0, -0.15], ArrowDown: [0, 0.15] };
      const nearer = { "+": 0.85, "=": 0.85, "-": 1 / 0.85 };
      const offset = this.camera.position.clone().sub(this.controls.target);
      if (event.key in turns) {
        const [around, over] = turns[event.key];
        const sphere = new THREE.Spherical().setFromVector3(offset.applyAxisAngle(new THREE.Vector3(1, 0, 0), -Math.PI / 2));
        sphere.theta += around;
        sphere.phi = Math.min(Math.max(sphere.phi + over, 0.02), Math.PI - 0.02);
        offset.setFromSpherical(sphere).applyAxisAngle(new THREE.Vector3(1, 0, 0), Math.PI / 2);
      } else if (event.key in nearer) offset.multiplyScalar(nearer[event.key]);
      else if (event.key === "Home") return this.flyHome();
      else return;
      event.preventDefault();
      this.camera.position.copy(this.controls.target).add(offset);
      this.controls.update();
      this.draw();
    },
    pick(event) {
      const box = this.$refs.canvas.getBoundingClientRect();
      const x = event.clientX - box.left;
      const y = event.clientY - box.top;
      const mark = this.placed.find((one) => Math.abs(one.x + 12 - x) < 16 && Math.abs(one.y + 12 - y) < 16);
      if (mark) return this.$emit("pick", { name: `#${mark.name}`, at: mark.at });
      const ray = new THREE.Raycaster();
      ray.setFromCamera(new THREE.Vector2((2 * x) / box.width - 1, 1 - (2 * y) / box.height), this.camera);
      const meshes = [...this.groups.values()].filter((group) => group.visible).map((group) => group.children[0]);
      // What the plane has cut away is not there to be picked.
      const met = ray
        .intersectObjects(meshes, false)
        .find((hit) => this.planes.every((plane) => plane.distanceToPoint(hit.point) >= 0));
      if (met) this.$emit("pick", { name: met.object.parent.name, at: met.point.toArray(), ...valueAt(met) });
    },
    resize() {
      const { clientWidth: width, clientHeight: height } = this.$el;
      if (!width || !height) return;
      this.renderer.setSize(width, height, false);
      this.camera.aspect = width / height;
      this.camera.updateProjectionMatrix();
      this.draw();
    },
    draw() {
      if (this.waiting || !this.renderer) return;
      this.waiting = true;
      this.frame = requestAnimationFrame(() => {
        this.waiting = false;
        this.renderer.render(this.scene, this.camera);
        this.place();
      });
    },
    place() {
      const { clientWidth: width, clientHeight: height } = this.$el;
      this.placed = this.marks.map((mark) => {
        const at = new THREE.Vector3(...mark.at).project(this.camera);
        return { ...mark, x: ((at.x + 1) / 2) * width - 12, y: ((1 - at.y) / 2) * height - 12 };
      });
    },
    look(target, from, size) {
      const distance = size / (2 * Math.tan(((FIELD_DEG / 2) * Math.PI) / 180));
      this.controls.target.copy(target);
      this.camera.position.copy(target).addScaledVector(from.normalize(), distance);
      this.controls.update();
      this.draw();
    },
    flyHome() {
      const middle = this.low.clone().add(this.high).multiplyScalar(0.5);
      this.look(middle, new THREE.Vector3(0.5, -1, 0.55), this.size * 1.1);
    },
    flyTo(at, size) {
      const place = new THREE.Vector3(...at);
      const outward = new THREE.Vector3(place.x, place.y, 0);
      if (outward.length() < this.size / 50) outward.set(0, -1, 0);
      outward.normalize().setZ(0.45);
      this.look(place, outward, Math.max(size, this.size / 12) * 2);
    },
    lookFrom(direction) {
      const middle = this.low.clone().add(this.high).multiplyScalar(0.5);
      const from = new THREE.Vector3(...direction).normalize();
      // Straight down the camera would not know which way is up.
      this.look(middle, Math.abs(from.z) > 0.9 ? from.add(new THREE.Vector3(0, -0.5, 0)) : from.setZ(0.25), this.size * 1.1);
    },
    show(name, visible) {
      const group = this.groups.get(name);
      if (group) group.visible = visible;
      this.draw();
    },
    choose(name) {
      this.chosen = name;
      for (const [key, group] of this.groups) {
        const strong = key === name;
        group.children[0].material.emissive.set(strong ? 0x333333 : 0x000000);
      }
      this.draw();
    },
    cutAt(cut) {
      this.planes.length = 0;
      if (cut) this.planes.push(new THREE.Plane(new THREE.Vector3(...cut.normal).negate(), cut.offset));
      this.draw();
    },
    move(name, direction, travel, share) {
      const group = this.groups.get(name);
      if (!group) return;
      group.position.set(...direction).multiplyScalar(-travel * (1 - share));
      this.draw();
    },
    play(name, direction, travel, seconds) {
      const begun = performance.now();
      const still = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
      const step = (now) => {
        const share = still ? 1 : Math.min((now - begun) / (1000 * seconds), 1);
        this.move(name, direction, travel, share * share * (3 - 2 * share));
        if (share < 1) requestAnimationFrame(step);
      };
      requestAnimationFrame(step);
    },
  },
};
