"""Rebuild ``pose_landmarker_full.task`` from the two networks that the mediapipe 0.10.21 wheel carries.

Run ``python -m formcheck.pose.model_bundle.rebuild`` (downloads the wheel with pip) or give a wheel with ``--wheel``.
The result is compared with ``pose_landmarker_full.task.sha256``; the same input gives the same bytes every time.

What is changed against the wheel: TFLite metadata with the normalisation of the input picture is added to both
networks (the task library refuses networks without it), and both are put into one zip archive, stored, not
deflated, because the task library maps them into memory. The weights stay as they are.
"""

import argparse
import hashlib
import subprocess
import sys
import tempfile
import zipfile
from io import BytesIO
from pathlib import Path
from typing import Any

from formcheck.pose.model_bundle import BUNDLE_PATH, CHECKSUM_PATH, read_expected_sha256

WHEEL = "mediapipe==0.10.21"
ALIGNMENT = 64
ZIP_DATE = (1980, 1, 1, 0, 0, 0)

# name in the bundle → (path in the wheel, sha256, mean, std); the input is (RGB - mean) / std:
# the detector wants -1..1, the landmark network 0..1
NETWORKS = {
    "pose_detector.tflite": (
        "mediapipe/modules/pose_detection/pose_detection.tflite",
        "9ba9dd3d42efaaba86b4ff0122b06f29c4122e756b329d89dca1e297fd8f866c",
        127.5,
        127.5,
    ),
    "pose_landmarks_detector.tflite": (
        "mediapipe/modules/pose_landmark/pose_landmark_full.tflite",
        "e9a5c5cb17f736fafd4c2ec1da3b3d331d6edbe8a0d32395855aeb2cdfd64b9f",
        0.0,
        255.0,
    ),
}


def add_metadata(network: bytes, mean: float, std: float) -> bytes:
    """The TFLite network with metadata that says its input is RGB, normalised by mean and std."""
    import flatbuffers
    from mediapipe.tasks.metadata import metadata_schema_py_generated as meta
    from mediapipe.tasks.metadata import schema_py_generated as tflite

    model: Any = tflite.ModelT.InitFromObj(tflite.Model.GetRootAsModel(network, 0))
    graph = model.subgraphs[0]
    buffer = tflite.BufferT()
    buffer.data = _pack_metadata(flatbuffers, meta, len(graph.inputs), len(graph.outputs), mean, std)
    entry = tflite.MetadataT()
    entry.name, entry.buffer = "TFLITE_METADATA", len(model.buffers)
    model.buffers.append(buffer)
    model.metadata = [*(model.metadata or []), entry]

    # the generated Pack aligns weights to 4 bytes; the schema asks for 16 (force_align), which fast kernels rely on
    original_pack = tflite.BufferT.Pack
    tflite.BufferT.Pack = _pack_aligned_buffer
    try:
        builder = flatbuffers.Builder(len(network) + 65536)
        builder.Finish(model.Pack(builder), file_identifier=b"TFL3")
    finally:
        tflite.BufferT.Pack = original_pack
    return bytes(builder.Output())


def _pack_metadata(flatbuffers: Any, meta: Any, inputs: int, outputs: int, mean: float, std: float) -> Any:
    import numpy as np

    normalization = meta.NormalizationOptionsT()
    normalization.mean, normalization.std = [mean], [std]
    unit = meta.ProcessUnitT()
    unit.optionsType, unit.options = meta.ProcessUnitOptions.NormalizationOptions, normalization
    image = meta.ImagePropertiesT()
    image.colorSpace = meta.ColorSpaceType.RGB
    content = meta.ContentT()
    content.contentPropertiesType, content.contentProperties = meta.ContentProperties.ImageProperties, image
    picture = meta.TensorMetadataT()
    picture.name, picture.content, picture.processUnits = "image", content, [unit]
    graph = meta.SubGraphMetadataT()
    graph.inputTensorMetadata = [picture] * inputs
    graph.outputTensorMetadata = [meta.TensorMetadataT() for _ in range(outputs)]
    model = meta.ModelMetadataT()
    model.subgraphMetadata = [graph]
    builder = flatbuffers.Builder(1024)
    builder.Finish(model.Pack(builder), file_identifier=b"M001")
    return np.frombuffer(bytes(builder.Output()), dtype=np.uint8)


def _pack_aligned_buffer(self: Any, builder: Any) -> Any:
    from mediapipe.tasks.metadata import schema_py_generated as tflite

    data = None
    if self.data is not None and len(self.data):
        raw = bytes(bytearray(self.data))
        builder.StartVector(1, len(raw), 16)
        builder.head -= len(raw)
        builder.Bytes[builder.head : builder.head + len(raw)] = raw
        data = builder.EndVector()
    tflite.BufferStart(builder)
    if data is not None:
        tflite.BufferAddData(builder, data)
    return tflite.BufferEnd(builder)


def make_bundle(networks: dict[str, bytes]) -> bytes:
    """One stored zip archive with fixed dates, every member starting at a multiple of 64 bytes."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for name, data in networks.items():
            member = zipfile.ZipInfo(name, ZIP_DATE)
            member.create_system, member.external_attr = 3, 0o644 << 16
            header = out.tell() + 30 + len(name)
            padding = -(header + 4) % ALIGNMENT
            # an extra field of the kind 0xD935 is the usual way to pad a zip member to a boundary
            member.extra = b"\x35\xd9" + padding.to_bytes(2, "little") + bytes(padding)
            archive.writestr(member, data)
    return out.getvalue()


def build_from_wheel(wheel: Path) -> bytes:
    """The bundle made from a mediapipe wheel; raises SystemExit when the wheel's networks are not the expected ones."""
    networks = {}
    with zipfile.ZipFile(wheel) as archive:
        for name, (path, sha256, mean, std) in NETWORKS.items():
            data = archive.read(path)
            if hashlib.sha256(data).hexdigest() != sha256:
                raise SystemExit(f"{wheel.name}: {path} is not the network this script was written for.")
            networks[name] = add_metadata(data, mean, std)
    return make_bundle(networks)


def download_wheel(folder: Path) -> Path:
    """The wheel, fetched with pip; any platform's wheel carries the same networks."""
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--only-binary=:all:"]
    command += ["--python-version=3.11", "--platform=manylinux_2_28_x86_64", f"--dest={folder}", WHEEL]
    subprocess.run(command, check=True)
    return next(folder.glob("mediapipe-*.whl"))


def main() -> int:
    """Rebuild, compare with the committed checksum, write."""
    parser = argparse.ArgumentParser(prog="python -m formcheck.pose.model_bundle.rebuild", description=__doc__)
    parser.add_argument("--wheel", type=Path, help=f"a {WHEEL} wheel already at hand")
    parser.add_argument("--out", type=Path, default=BUNDLE_PATH)
    parser.add_argument("--accept", action="store_true", help="write the new checksum instead of comparing")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        data = build_from_wheel(options.wheel or download_wheel(Path(folder)))
    sha256 = hashlib.sha256(data).hexdigest()
    if options.accept:
        CHECKSUM_PATH.write_text(f"{sha256}  {BUNDLE_PATH.name}\n", encoding="ascii")
    elif sha256 != read_expected_sha256():
        sys.stderr.write(f"The rebuilt bundle has sha256 {sha256}, expected {read_expected_sha256()}.\n")
        return 1
    options.out.write_bytes(data)
    sys.stdout.write(f"{options.out}: {len(data)} bytes, sha256 {sha256}\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
