// Ambient names for the firmware's number types, so that files in shared/ read the same under both
// compilers. To TypeScript each is a plain number: nothing here changes a value.
declare type i8 = number;
declare type u8 = number;
declare type i16 = number;
declare type u16 = number;
declare type i32 = number;
declare type u32 = number;
declare type f32 = number;
declare type f64 = number;
