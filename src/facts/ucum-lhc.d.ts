/** The part of the units library that is used here; the package ships no types. */
declare module '@lhncbc/ucum-lhc' {
  interface Conversion {
    readonly status: 'succeeded' | 'failed' | 'error';
    readonly toVal: number | null;
  }
  interface UcumLhcUtilsInstance {
    convertUnitTo(from: string, value: number, to: string): Conversion;
  }
  export const UcumLhcUtils: { getInstance(): UcumLhcUtilsInstance };
}
