// In the place of the version check that the protocol's library makes with a whole library: no editor runs an extension that its manifest says is too new for it.
module.exports = () => ({});
