// The checker is not to look into the library itself.
declare const uPlot: any;
export default uPlot;
