// The checker is not to look into the library itself, which is not ours.
declare module "*/uPlot.esm.js" {
  const uPlot: any;
  export default uPlot;
}
