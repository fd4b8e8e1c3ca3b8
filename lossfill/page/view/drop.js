// A place to drop a file on. The file is sent as it is, so that the server can stop at its limit.
export default {
  template: `
    <div class="drop-place" :class="{ over }" @dragover.prevent="over = true" @dragleave="over = false" @drop.prevent="dropped">
      <label>
        <strong>{{ label }}</strong>
        <input type="file" :accept="kinds" :disabled="busy" @change="chosen" />
        <span>{{ says }}</span>
      </label>
      <p role="status" aria-live="polite">{{ told }}</p>
      <p v-if="fault" role="alert" class="fault">{{ fault }}</p>
    </div>`,
  props: {
    url: String, kinds: String, most: Number, label: String, says: String, sending: String,
    tooLarge: String, notSent: String, notTaken: String,
  },
  emits: ["received"],
  data() {
    return { over: false, busy: false, told: "", fault: "" };
  },
  methods: {
    dropped(event) {
      this.over = false;
      const [file] = event.dataTransfer.files;
      if (file) this.send(file);
    },
    chosen(event) {
      const [file] = event.target.files;
      if (file) this.send(file);
      event.target.value = "";
    },
    send(file) {
      // The server stops at its limit too, but a browser that is still sending hears no answer.
      if (file.size > this.most) return this.fail(this.tooLarge.replace("{name}", file.name));
      const request = new XMLHttpRequest();
      request.open("POST", `${this.url}?name=${encodeURIComponent(file.name)}`);
      request.setRequestHeader("Content-Type", "application/octet-stream");
      request.upload.onprogress = (event) => this.tell(file, event.loaded / Math.max(event.total, 1));
      request.onload = () => this.done(request);
      request.onerror = () => this.fail(this.notSent);
      this.busy = true;
      this.fault = "";
      this.tell(file, 0);
      request.send(file);
    },
    tell(file, share) {
      this.told = this.sending.replace("{name}", file.name).replace("{percent}", Math.floor(100 * share));
    },
    done(request) {
      this.busy = false;
      this.told = "";
      let answer = {};
      try {
        answer = JSON.parse(request.responseText);
      } catch {
        return this.fail(this.notTaken);
      }
      if (answer.link) this.$emit("received", { link: answer.link });
      else this.fail(answer.failed);
    },
    fail(sentence) {
      this.busy = false;
      this.told = "";
      // A file's name at its head stays as it is.
      const head = /^\p{L}+ /u.test(sentence) ? sentence.charAt(0).toUpperCase() : sentence.charAt(0);
      this.fault = head + sentence.slice(1) + ".";
    },
  },
};
