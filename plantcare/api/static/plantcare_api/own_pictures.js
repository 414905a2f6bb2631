// The reader that draws the page asks another host for its maker's picture. Nothing is fetched from
// elsewhere here: such a picture becomes an empty one, which the reader then leaves out.
(() => {
  const image = HTMLImageElement.prototype;
  const set = Element.prototype.setAttribute;
  const source = Object.getOwnPropertyDescriptor(image, "src");
  const own = (value) => {
    const address = new URL(value, location.href);
    const foreign = address.protocol.startsWith("http") && address.origin !== location.origin;
    return foreign ? "data:," : value;
  };
  image.setAttribute = function (name, value) {
    set.call(this, name, name === "src" ? own(value) : value);
  };
  Object.defineProperty(image, "src", {
    ...source,
    set(value) {
      source.set.call(this, own(value));
    },
  });
})();
