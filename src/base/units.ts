declare const unit: unique symbol;
type Unit<Name extends string> = number & { readonly [unit]: Name };

/** An angle in degrees. */
export type Degrees = Unit<'deg'>;
/** A length in millimetres. */
export type Millimetres = Unit<'mm'>;
/** A force in newtons. */
export type Newtons = Unit<'N'>;

/** Marks a finite number as degrees; throws RangeError on NaN or infinity. */
export function degrees(value: number): Degrees {
  if (!Number.isFinite(value)) throw new RangeError(`degrees must be finite, got ${value}`);
  return value as Degrees;
}

/** Marks a finite number as millimetres; throws RangeError on NaN or infinity. */
export function millimetres(value: number): Millimetres {
  if (!Number.isFinite(value)) throw new RangeError(`millimetres must be finite, got ${value}`);
  return value as Millimetres;
}

/** Marks a finite number as newtons; throws RangeError on NaN or infinity. */
export function newtons(value: number): Newtons {
  if (!Number.isFinite(value)) throw new RangeError(`newtons must be finite, got ${value}`);
  return value as Newtons;
}
